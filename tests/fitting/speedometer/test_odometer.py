"""Odometer against noted distances and tracks, from sheet to finding."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gearfit.errors import LogError, UnitError
from gearfit.importers import describe, read_log
from gearfit.records.recording import OdometerReading, Recording
from gearfit.speedometer.odometer import Odometer, check_odometer, track_length_m
from tests.simulator.instruments import SpeedChannel
from tests.simulator.machines import trail_bike
from tests.simulator.recorder import observe_track
from tests.simulator.ride import TrueRide
from tests.simulator.scripts import city_ride


def sheet(tmp_path: Path, text: str) -> Recording:
    path = tmp_path / "odometer.csv"
    path.write_text(text, encoding="utf-8")
    return read_log(path)


@pytest.fixture(scope="module")
def ride() -> TrueRide:
    return city_ride(np.random.default_rng(1), trail_bike(), duration_s=400.0)


@pytest.fixture(scope="module")
def track(ride: TrueRide) -> Recording:
    return observe_track(ride, SpeedChannel(rate_hz=5.0), np.random.default_rng(2)).recording


def test_the_length_of_a_track_is_the_way_ridden(ride: TrueRide, track: Recording) -> None:
    """The receiver's speeds are 0.2 s late, so the last metres are missing: at most 2 per thousand here."""
    length = track_length_m(track)
    assert length == pytest.approx(float(ride.position_m[-1] - ride.position_m[0]), rel=2e-3)
    samples = track.samples
    gone = samples[(samples["time_s"] < 100) | (samples["time_s"] > 200)].reset_index(drop=True)
    assert track_length_m(replace(track, samples=gone)) is None


def test_noted_distances(tmp_path: Path) -> None:
    found = check_odometer(
        [sheet(tmp_path, "odometer_start_km,odometer_end_km,odometer_true_km\n100.0,152.0,50.0\n200.0,304.1,100\n")]
    )
    assert isinstance(found, Odometer)
    assert found.factor.value == pytest.approx(1.0405, abs=0.001)
    assert (found.rides, found.true_m) == (2, 150_000.0)


def test_miles_are_the_same_distance(tmp_path: Path) -> None:
    km = check_odometer([sheet(tmp_path, "odometer_start_km;odometer_end_km;odometer_true_km\n0,0;104,0;100,0\n")])
    miles = check_odometer(
        [sheet(tmp_path, "odometer start (mi),odometer end (mi),odometer_true_km\n0.0,64.6,99.97\n")]
    )
    assert isinstance(km, Odometer)
    assert isinstance(miles, Odometer)
    assert miles.factor.value == pytest.approx(64.6 * 1.609344 / 99.97)
    assert km.factor.value == pytest.approx(1.04)


def test_resolution_of_the_odometer_is_in_the_error(tmp_path: Path) -> None:
    """Two readings, uniform within 1 km each: 1/sqrt(6) km of 10 is 4.1 %."""
    found = check_odometer([sheet(tmp_path, "odometer_start_km,odometer_end_km,odometer_true_km\n100,110,10\n")])
    assert isinstance(found, Odometer)
    assert found.factor.se == pytest.approx(np.hypot(1 / np.sqrt(6) / 10, 0.002), rel=1e-6)


def test_against_the_track(ride: TrueRide, track: Recording) -> None:
    way_m = float(ride.position_m[-1] - ride.position_m[0])
    reading = OdometerReading(2, 1000.0, 1000.0 + 100 * round(1.06 * way_m / 100), 100.0, None)
    sheet = replace(track, kind="odometer", samples=track.samples.iloc[:0], odometer=(reading,))
    found = check_odometer([sheet, track])
    assert isinstance(found, Odometer)
    assert abs(found.factor.value - 1.06) < 3 * found.factor.se
    twice = replace(sheet, odometer=(reading, reading))
    assert check_odometer([twice, track]) == (
        "2 rides by the odometer and 1 tracks cannot be paired: note the true distance (odometer_true_km) in each row, "
        "or one row for each track, or one row for all of them together"
    )
    assert check_odometer([track]) is None


def test_what_check_says(tmp_path: Path) -> None:
    lines = describe(sheet(tmp_path, "odometer_start_km,odometer_end_km\n100.0,152.0\n200,150\n"))
    assert lines[0] == "odometer.csv: sheet of odometer readings"
    assert "  rows: 1 ride" in lines
    assert "  missing: no true distance here: add a track of each ride, or a column odometer_true_km" in lines
    assert "  note: 1 row without a higher reading at the end left out (the first is line 3)." in lines


def test_refused(tmp_path: Path) -> None:
    with pytest.raises(UnitError) as unit:
        sheet(tmp_path, "odometer_start,odometer_end\n1,2\n")
    assert str(unit.value) == (
        "odometer.csv, column 'odometer_start': the header states no unit of length that is known; allowed are km, mi, "
        "m and ft. Write odometer_start_km or odometer_start_mi as the header."
    )
    with pytest.raises(LogError) as rows:
        sheet(tmp_path, "odometer_start_km,odometer_end_km\n200,150\n")
    assert str(rows.value) == (
        "odometer.csv, line 2: no row holds a ride; allowed is an odometer reading at the start and a higher one at "
        "the end. Correct the rows."
    )


def test_a_ride_of_no_length_is_not_divided_by(tmp_path: Path) -> None:
    read = sheet(tmp_path, "odometer_start_km,odometer_end_km,odometer_true_km\n100,110,10\n110,120,10\n")
    first, second = read.odometer
    found = check_odometer([replace(read, odometer=(first, replace(second, true_m=0.0)))])
    assert isinstance(found, str)
    assert "no length" in found
