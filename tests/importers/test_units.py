"""A unit that is stated is known, or refused: never ignored, and never believed against the rest of the file."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from gearfit.errors import LogError, UnitError
from gearfit.importers import read_log
from gearfit.importers.common.headers import read_header
from gearfit.importers.common.named import meaning_of
from gearfit.importers.common.options import ReadOptions
from gearfit.machine.bike import ColumnNames
from tests.importers.conftest import Read
from tests.importers.gpx_text import gpx

#: Metres in a degree of latitude at 50 degrees north, WGS84: 111 229 m (from the radius of curvature in the meridian,
#: M = a (1 - e^2)/(1 - e^2 sin^2 phi)^1.5, worked out by hand).
METRE_PER_DEGREE = 111_229.0
NO_TIME = "is no unit of time that is known; allowed are days, h, min, s, 0.1 s, cs, ms, µs and ns"
NO_RPM = "is no unit of engine speed that is known; allowed are rpm, x100, x1000, Hz (turns a second), rad/s and deg/s"
NO_SPEED = "is no unit of speed that is known; allowed are km/h, mph, m/s, knots and ft/s"


@pytest.mark.parametrize(
    ("header", "unit", "factor"),
    [
        ("Time (h)", "h", 3600.0),
        ("time_hours", "h", 3600.0),
        ("Time (days)", "days", 86_400.0),
        ("Time (0.1 s)", "0.1 s", 0.1),
        ("Time [1/100 s]", "0.01 s", 0.01),
        ("time (cs)", "0.01 s", 0.01),
        ("Time (10 ms)", "10 ms", 0.01),
        ("Time (HH:MM:SS.sss)", None, 1.0),
        ("Time (local)", None, 1.0),
        ("Time (seconds since start)", "s", 1.0),
        ("Time [ms since boot]", "ms", 1e-3),
        ("Time of day", None, 1.0),
        ("Time (unix ms)", "utc", 1.0),
        ("rpm (x100)", "100 rpm", 100.0),
        ("rpm x100", "100 rpm", 100.0),
        ("Tacho [x1000 r/min]", "1000 rpm", 1000.0),
        ("tacho [Hz]", "rev/s", 60.0),
        ("rpm (rad/s)", "rad/s", 30 / math.pi),
        ("engine speed [min⁻¹]", "rpm", 1.0),
        ("rpm [-]", "rpm", 1.0),
        ("rpm (engine)", "rpm", 1.0),
        ("Speed km/h (GPS)", "km/h", 1 / 3.6),
        ("Speed (rear wheel) [mph]", "mph", 0.44704),
        ("Speed (0.01 km/h)", "0.01 km/h", 0.01 / 3.6),
        ("Latitude (rad)", "rad", 180 / math.pi),
    ],
)
def test_units_that_are_known(header: str, unit: str | None, factor: float) -> None:
    meaning = read_header(header)
    assert meaning is not None
    assert (meaning.unit, meaning.fault) == (unit, "")
    assert meaning.factor == pytest.approx(factor, rel=1e-12)


ROWS = "".join(f"{k},{3000 + k},{40 + k}\n" for k in range(30))


@pytest.mark.parametrize(
    ("header", "column", "fault"),
    [
        ("Time (fortnights),rpm,speed_kmh", "Time (fortnights)", f"'fortnights' {NO_TIME}. Write time_s, time_ms or "),
        ("time_s,rpm (flashes),speed_kmh", "rpm (flashes)", f"'flashes' {NO_RPM}. Write rpm, rpm_x100, rpm_x1000 or "),
        ("time_s,rpm,speed (cm/s)", "speed (cm/s)", f"'cm/s' {NO_SPEED}. Write speed_kmh or speed_mph (or speed_mps) "),
        ("time_s,rpm,speed_kmh (mph)", "speed_kmh (mph)", "the header states two units, 'kmh' and 'mph'; allowed is "),
        ("time_s,rpm_x1000 (rpm),speed_kmh", "rpm_x1000 (rpm)", "the header states two units, 'x1000' and 'rpm'; "),
        ("Time (ms) [s],rpm,speed_kmh", "Time (ms) [s]", "the header states two units, 'ms' and 's'; allowed is one"),
        ("Time,rpm,speed_kmh\ns,rpm,mph", "speed_kmh [mph]", "the header states two units, 'kmh' and 'mph'; "),
    ],
)
def test_units_that_are_refused(read: Read, header: str, column: str, fault: str) -> None:
    with pytest.raises(UnitError) as caught:
        read(f"{header}\n{ROWS}", "a.csv")
    assert str(caught.value).startswith(f"a.csv, column {column!r}: {fault}")


def test_a_message_whole(read: Read) -> None:
    with pytest.raises(UnitError) as caught:
        read(f"time_s,rpm (flashes),speed_kmh\n{ROWS}", "a.csv")
    assert str(caught.value) == (
        f"a.csv, column 'rpm (flashes)': 'flashes' {NO_RPM}. Write rpm, rpm_x100, rpm_x1000 or rpm (rad/s) as the "
        "header, with the values in that unit."
    )


def test_a_column_of_no_need_is_left_out_and_named(read: Read) -> None:
    log = read("time_s,rpm,Altitude (FL)\n" + "".join(f"{k},{3000 + k},3\n" for k in range(30)))
    assert log.samples["elevation_m"].isna().all()
    assert log.notes == (
        "Column 'Altitude (FL)' is not used: 'fl' is no unit of length that is known; allowed are km, mi, m and ft.",
    )


def test_another_column_with_a_known_unit_is_taken(read: Read) -> None:
    log = read("time_s,Engine speed (%),rpm\n" + "".join(f"{k},50,{3000 + k}\n" for k in range(30)))
    assert log.samples["engine_rpm"].iloc[0] == 3000
    assert log.notes == (f"Column 'Engine speed (%)' is not used: '%' {NO_RPM}.",)


def test_times_in_hours(read: Read) -> None:
    log = read("Time (h),rpm\n" + "".join(f"{k / 3600:.7f},{3000 + k}\n" for k in range(650)))
    assert log.samples["time_s"].iloc[-1] == pytest.approx(649.0, abs=1e-3)
    assert log.columns[0].unit == "h"


def test_timed_runs_in_tenths(read: Read) -> None:
    sheet = read("from_kmh,to_kmh,time (0.1 s)\n0,80,61\n")
    assert sheet.runs["time_s"].tolist() == pytest.approx([6.1])


@pytest.mark.parametrize("separator", [".", ","])
def test_thousands_beside_hundreds(read: Read, separator: str) -> None:
    rows = "".join(f"{k};{('900', f'4{separator}000', f'1{separator}250')[k % 3]}\n" for k in range(30))
    log = read(f"time_s;rpm\n{rows}")
    assert log.samples["engine_rpm"].iloc[:3].tolist() == [900.0, 4000.0, 1250.0]
    assert log.notes == (f"Column 'rpm': 20 values read as thousands (the first is '4{separator}000').",)


def test_cells_without_a_value_beside_thousands(read: Read) -> None:
    log = read("time_s;rpm\n0;900\n1;nan\n2;4,000\n3;inf\n4;-\n5;950\n")
    assert log.samples["engine_rpm"].tolist() == pytest.approx(
        [900, math.nan, 4000, math.nan, math.nan, 950], nan_ok=True
    )


def test_a_receiver_that_lost_its_positions(read: Read) -> None:
    """Positions of 0, 0 while there is no fix are no ground for a refusal."""
    text = with_positions("speed_kmh", 72.0)
    lost = text.replace(f",{50 + 20 * 7 / METRE_PER_DEGREE:.7f},10,", ",0,0,")
    assert lost != text
    assert len(read(lost).samples) == 60


def test_decimals_of_a_stopping_engine_are_no_thousands(read: Read) -> None:
    log = read("time_s;rpm\n0;950.250\n1;45.125\n2;0.000\n")
    assert log.samples["engine_rpm"].tolist() == [950.25, 45.125, 0.0]


def test_engine_speeds_in_hundreds_that_nobody_stated(read: Read) -> None:
    with pytest.raises(UnitError) as caught:
        read("time_s,rpm\n" + "".join(f"{k},{30 + k / 10}\n" for k in range(30)), "a.csv")
    assert str(caught.value) == (
        "a.csv, column 'rpm': the highest engine speed is 32.9 rpm, which is no running engine. Write rpm_x1000, "
        "rpm_x100, rpm_hz (turns a second) or rpm_rad/s as the header where the values are that, or write the numbers "
        "without a separator for thousands (5000)."
    )


def test_rows_faster_than_any_logger(read: Read) -> None:
    with pytest.raises(UnitError) as caught:
        read("time_s,rpm\n" + "".join(f"{k / 3600:.6f},{3000 + k}\n" for k in range(30)), "a.csv")
    assert str(caught.value) == (
        "a.csv, column 'time_s': rows follow every 0.278 ms on average, which no logger does; allowed is 1 ms and "
        "more. Write the true unit of the times into the header (time_min, time_h or time_s), or thin the log out."
    )


def with_positions(header: str, value: float, *, step: float = 1.0) -> str:
    """Northward at 20 m/s, a row a second."""
    rows = (f"{k * step:.6f},{50 + 20 * k / METRE_PER_DEGREE:.7f},10,{value:.3f},{3000 + k}\n" for k in range(60))
    return f"time_s,lat,lon,{header},rpm\n{''.join(rows)}"


@pytest.mark.parametrize(
    ("header", "value", "ratio", "said"),
    [
        ("speed_mps", 72.0, "3.6", "as if they were in km/h and not in m/s"),
        ("speed_mps", 44.739, "2.24", "as if they were in mph and not in m/s"),
        ("speed_kn", 72.0, "1.85", "as if they were in km/h and not in kn"),
        ("speed_mph", 72.0, "1.61", "as if they were in km/h and not in mph"),
        ("speed_kmh", 20.0, "0.278", "as if they were in m/s and not in km/h"),
        ("speed_kmh", 133.344, "1.85", "which is the factor from kn to km/h"),
    ],
)
def test_a_speed_against_the_positions(read: Read, header: str, value: float, ratio: str, said: str) -> None:
    with pytest.raises(UnitError) as caught:
        read(with_positions(header, value), "a.csv")
    assert str(caught.value).startswith(
        f"a.csv, column {header!r}: its speeds are {ratio} times those that the positions of the same file show, "
        f"{said}; "
    )


@pytest.mark.parametrize("value", [72.0, 74.0, 65.0])
def test_a_speed_that_is_off_by_some_per_cent_is_read(read: Read, value: float) -> None:
    assert read(with_positions("speed_kmh", value)).samples["speed_mps"].iloc[0] == pytest.approx(value / 3.6)


def test_times_against_the_positions(read: Read) -> None:
    with pytest.raises(UnitError) as caught:
        read(with_positions("speed_kmh", 72.0, step=1 / 60), "a.csv")
    assert str(caught.value) == (
        "a.csv, column 'time_s': its speeds are 0.0167 times those that the positions of the same file show, as if the "
        "times were in min and not in s; allowed is the unit that the header states. Write time_min as the header."
    )


def track(speed: float) -> str:
    """Northward at 20 m/s, a point a second."""
    return gpx(
        [
            f'<trkpt lat="{50 + 20 * k / METRE_PER_DEGREE:.7f}" lon="10"><time>2024-05-01T12:00:{k:02d}Z</time>'
            f"<extensions><speed>{speed}</speed></extensions></trkpt>"
            for k in range(60)
        ]
    )


def test_a_track_with_speeds_in_kmh(read: Read) -> None:
    assert read(track(20.0)).speed_source == "receiver"
    with pytest.raises(UnitError) as caught:
        read(track(72.0), "a.gpx")
    assert str(caught.value) == (
        "a.gpx, column 'speed (extension)': its speeds are 3.6 times those that the positions of the same file show, "
        "as if they were in km/h and not in m/s; allowed is m/s. Export the track with speeds in m/s, or without, so "
        "that they are derived from the positions."
    )


def test_a_dash_against_a_receiver(read: Read) -> None:
    assert read("indicated_kmh,gps_mph\n50,29\n70,41\n90,53\n110,65\n").kind == "samples"
    with pytest.raises(LogError) as caught:
        read("indicated_kmh,gps_kmh\n50,29\n70,41\n90,53\n110,65\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, columns 'indicated_kmh' and 'gps_kmh': the shown speeds are 1.7 times the others, as if 'gps_kmh' were "
        "in mph and not in km/h; allowed is the unit that the header states. Write the true units into the headers."
    )


def test_a_unit_from_the_bike_file(tmp_path: Path) -> None:
    """It counts where the header states none, whatever the column is called."""
    path = tmp_path / "a.csv"
    path.write_text("time_s,VEHICLE_SPEED (),rpm\n" + "".join(f"{k},36,3000\n" for k in range(20)))
    with pytest.raises(UnitError) as caught:
        read_log(path)
    assert str(caught.value) == (
        "a.csv, column 'VEHICLE_SPEED ()': the header states no unit of speed that is known; allowed are km/h, mph, "
        "m/s, knots and ft/s. Write speed_kmh or speed_mph (or speed_mps) as the header, or [columns] speed_unit = "
        '"km/h" (or "mph") in bike.toml.'
    )
    named = ColumnNames(speed_unit="km/h")
    assert read_log(path, options=ReadOptions(columns=named)).samples["speed_mps"].iloc[0] == pytest.approx(10.0)
    for header, unit in (("speed_mph", "mph"), ("Speed (m/s)", "m/s"), ("Speed", "km/h")):
        meaning = meaning_of(header, named)
        assert meaning is not None
        assert meaning.unit == unit


def test_a_unit_of_the_bike_file_is_that_of_the_column_named_there() -> None:
    named = ColumnNames(speed="Tempo (roh)", speed_unit="km/h")
    meaning = meaning_of("Tempo (roh)", named)
    assert meaning is not None
    assert (meaning.unit, meaning.fault) == ("km/h", "")
