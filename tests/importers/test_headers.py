"""What headers mean."""

from __future__ import annotations

import pytest

from gearfit.importers.common.headers import read_header

KMH, MPH = 1 / 3.6, 0.44704  # exact: 1609.344 m in a mile


@pytest.mark.parametrize(
    ("header", "channel", "unit", "factor"),
    [
        ("Speed (mph)", "speed_mps", "mph", MPH),
        ("speed_kmh", "speed_mps", "km/h", KMH),
        ("Speed km/h", "speed_mps", "km/h", KMH),
        ("speed_mps", "speed_mps", "m/s", 1.0),
        ("Vehicle Speed Sensor [km/h]", "speed_mps", "km/h", KMH),
        ("GPS Speed (Meters/second)", "speed_mps", "m/s", 1.0),
        ("GPSSpeed [kph]", "speed_mps", "km/h", KMH),
        ("Speed (GPS) (km/h)", "speed_mps", "km/h", KMH),
        ("speed_knots", "speed_mps", "kn", 1852 / 3600),
        ("mph", "speed_mps", "mph", MPH),
        ("speed", "speed_mps", None, 1.0),
        ("Engine RPM [RPM]", "engine_rpm", "rpm", 1.0),
        ("Engine Speed (rpm)", "engine_rpm", "rpm", 1.0),
        ("engine_rpm", "engine_rpm", "rpm", 1.0),
        ("rpm", "engine_rpm", "rpm", 1.0),
        ("RPM x1000", "engine_rpm", "1000 rpm", 1000.0),
        ("krpm", "engine_rpm", "1000 rpm", 1000.0),
        ("Time", "time_s", None, 1.0),
        ("Time (s)", "time_s", "s", 1.0),
        ("time_ms", "time_s", "ms", 1e-3),
        ("time_utc", "time_s", "utc", 1.0),
        ("gear", "stated_gear", "", 1.0),
        ("repeat", "repeat", "", 1.0),
        ("indicated_kmh", "indicated_mps", "km/h", KMH),
        ("Indicated speed (mph)", "indicated_mps", "mph", MPH),
        ("from_kmh", "from_mps", "km/h", KMH),
        ("To (mph)", "to_mps", "mph", MPH),
        ("gps_long", "longitude_deg", "degrees", 1.0),
        ("Altitude (ft)", "elevation_m", "ft", 0.3048),
    ],
)
def test_header(header: str, channel: str, unit: str | None, factor: float) -> None:
    meaning = read_header(header)
    assert meaning is not None
    assert (meaning.channel, meaning.unit) == (channel, unit)
    assert meaning.factor == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(
    "header",
    [
        "Engine Coolant Temperature [Â°C]",
        "Throttle [%]",
        "speed_source",
        "Wind speed (km/h)",
        "Wheel speed (rpm)",
        "Speed limit (km/h)",
        "lap time",
        "Gear ratio",
        "a sentence that speaks of time and of speed",
        "",
    ],
)
def test_columns_of_no_use(header: str) -> None:
    assert read_header(header) is None


def test_a_receiver_comes_before_a_wheel() -> None:
    ranks = [read_header(header) for header in ("GPS speed (mph)", "speed (mph)", "wheel speed (mph)")]
    assert [meaning.rank for meaning in ranks if meaning is not None] == [0, 1, 2]
