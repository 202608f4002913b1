"""The files written: read back by gpxpy, by the standard library, and by the importers."""

from __future__ import annotations

import csv
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import gpxpy
import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from gearfit.importers import read_log
from gearfit.records.recording import Recording
from tests.simulator.files import NAMESPACE, write_log, write_runs, write_sheet, write_track
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machines import commuter_twin, trail_bike
from tests.simulator.path import positions_deg
from tests.simulator.recorder import Logger, observe_log, observe_rpm_log, observe_track
from tests.simulator.ride import TrueRide
from tests.simulator.scripts import holds_only
from tests.simulator.sheets import Speedometer, observe_runs, observe_sheet


@pytest.fixture(scope="module")
def ride() -> TrueRide:
    return holds_only(np.random.default_rng(1), trail_bike(), hold_s=4.0)


def assert_same(read: Recording, written: Recording, channels: tuple[str, ...]) -> None:
    assert (read.kind, read.clock, read.speed_source) == (written.kind, written.clock, written.speed_source)
    assert read.start_s == pytest.approx(written.start_s)
    for name in ("row", "time_s", *channels):
        np.testing.assert_allclose(read.samples[name], written.samples[name], rtol=1e-9, atol=1e-9, err_msg=name)


def test_way_on_the_ellipsoid_agrees_with_the_way_ridden(ride: TrueRide) -> None:
    """Distances by geographiclib (C. F. F. Karney, Algorithms for geodesics, J. Geod. 87, 43, 2013)."""
    time_s = np.arange(0.0, ride.time_s[-1], 2.0)
    latitude, longitude = positions_deg(ride, time_s)
    way_m = np.diff(np.interp(time_s, ride.time_s, ride.position_m))
    measured_m = [
        Geodesic.WGS84.Inverse(latitude[k], longitude[k], latitude[k + 1], longitude[k + 1])["s12"]
        for k in range(time_s.size - 1)
    ]
    np.testing.assert_allclose(measured_m, way_m, rtol=1e-3, atol=1e-3)
    assert np.ptp(latitude) > 0.001
    assert np.ptp(longitude) > 0.001


def test_track_is_gpx_with_speed_and_rpm_in_a_namespace_of_its_own(ride: TrueRide, tmp_path: Path) -> None:
    seen = observe_track(ride, SpeedChannel(rate_hz=5.0), np.random.default_rng(2), rpm=RpmChannel()).recording
    path = tmp_path / "track.gpx"
    write_track(seen, path)
    root = ET.parse(path).getroot()
    assert root.tag == "{http://www.topografix.com/GPX/1/1}gpx"
    assert root.get("version") == "1.1"
    speeds = [float(element.text or "nan") for element in root.iter(f"{{{NAMESPACE}}}speed")]
    rpms = [float(element.text or "nan") for element in root.iter(f"{{{NAMESPACE}}}rpm")]
    np.testing.assert_allclose(speeds, seen.samples["speed_mps"], atol=1e-9)
    np.testing.assert_allclose(rpms, seen.samples["engine_rpm"], atol=1e-9)
    points = gpxpy.parse(path.read_text(encoding="utf-8")).tracks[0].segments[0].points
    assert [points[k].time for k in (0, 1, 5)] == [
        datetime(2026, 5, 10, 8, 30, 0, 0, UTC),
        datetime(2026, 5, 10, 8, 30, 0, 200_000, UTC),
        datetime(2026, 5, 10, 8, 30, 1, 0, UTC),
    ]
    np.testing.assert_allclose([point.latitude for point in points], seen.samples["latitude_deg"], atol=1e-9)


@pytest.mark.parametrize("rpm", [None, RpmChannel()])
def test_track_comes_back_through_the_importer(ride: TrueRide, tmp_path: Path, rpm: RpmChannel | None) -> None:
    receiver = SpeedChannel(rate_hz=10.0, dropouts_per_minute=2.0)
    seen = observe_track(ride, receiver, np.random.default_rng(2), rpm=rpm, file="t.gpx").recording
    write_track(seen, tmp_path / "t.gpx")
    channels = ("speed_mps", "engine_rpm", "elevation_m", "latitude_deg", "longitude_deg")
    assert_same(read_log(tmp_path / "t.gpx"), seen, channels)


@pytest.mark.parametrize("unit", ["kmh", "mph", "mps"])
def test_log_comes_back_through_the_importer(ride: TrueRide, tmp_path: Path, unit: str) -> None:
    step_mps = {"kmh": 0.1 / 3.6, "mph": 0.44704, "mps": 0.01}[unit]
    logger = Logger(speed=SpeedChannel(step_mps=step_mps), rpm=RpmChannel(step_rpm=0.25))
    seen = observe_log(ride, logger, np.random.default_rng(2), file="log.csv").recording
    write_log(seen, tmp_path / "log.csv", speed_unit=unit)
    assert_same(read_log(tmp_path / "log.csv"), seen, ("speed_mps", "engine_rpm"))


def test_polled_log_leaves_cells_empty_before_the_first_value(ride: TrueRide, tmp_path: Path) -> None:
    logger = Logger(speed=SpeedChannel(rate_hz=1.0, step_mps=1 / 3.6), rpm=RpmChannel(rate_hz=1.0), in_turn=True)
    seen = observe_log(ride, logger, np.random.default_rng(2)).recording
    write_log(seen, tmp_path / "polled.csv")
    rows = list(csv.DictReader((tmp_path / "polled.csv").read_text(encoding="utf-8").splitlines()))
    assert list(rows[0]) == ["time_s", "rpm", "speed_kmh"]
    assert [row["rpm"] == "" for row in rows[:6]] == [True] * 5 + [False]
    assert rows[0]["speed_kmh"] == "0"


def test_rpm_log_with_absolute_time_comes_back_through_the_importer(ride: TrueRide, tmp_path: Path) -> None:
    seen = observe_rpm_log(ride, RpmChannel(), np.random.default_rng(2), from_s=2.3, file="rpm.csv").recording
    write_log(seen, tmp_path / "rpm.csv")
    first = (tmp_path / "rpm.csv").read_text(encoding="utf-8").splitlines()[:2]
    assert first[0] == "time,rpm"
    assert first[1].startswith("2026-05-10T08:30:02.300Z,")
    assert_same(read_log(tmp_path / "rpm.csv"), seen, ("engine_rpm",))


def test_rpm_log_with_seconds_of_its_own_comes_back_through_the_importer(ride: TrueRide, tmp_path: Path) -> None:
    seen = observe_rpm_log(ride, RpmChannel(), np.random.default_rng(2), clock="elapsed", file="rpm.csv").recording
    write_log(seen, tmp_path / "rpm.csv")
    assert_same(read_log(tmp_path / "rpm.csv"), seen, ("engine_rpm",))


@pytest.mark.parametrize("receiver", [True, False])
@pytest.mark.parametrize("speedometer", [None, Speedometer()])
def test_sheet_comes_back_through_the_importer(tmp_path: Path, receiver: bool, speedometer: Speedometer | None) -> None:
    plan = [(gear, 5000.0) for gear in range(1, 7)]
    rng = np.random.default_rng(2)
    seen = observe_sheet(commuter_twin(), plan, rng, receiver=receiver, speedometer=speedometer, file="s.csv")
    write_sheet(seen, tmp_path / "s.csv")
    assert_same(
        read_log(tmp_path / "s.csv"),
        replace(seen, start_s=None),
        ("stated_gear", "engine_rpm", "speed_mps", "indicated_mps"),
    )


@pytest.mark.parametrize("unit", ["kmh", "mph"])
def test_runs_come_back_through_the_importer(tmp_path: Path, unit: str) -> None:
    to_mps = {"kmh": 80 / 3.6, "mph": 50 * 0.44704}[unit]
    seen = observe_runs(commuter_twin(), 0.0, to_mps, 3, np.random.default_rng(2), file="r.csv")
    write_runs(seen, tmp_path / "r.csv", speed_unit=unit)
    read = read_log(tmp_path / "r.csv")
    assert read.kind == "timed runs"
    for name in ("row", "from_mps", "to_mps", "time_s"):
        np.testing.assert_allclose(read.runs[name], seen.runs[name], rtol=1e-9, err_msg=name)
