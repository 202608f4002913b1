"""Logs of a ride: delimited text, GPX, NMEA."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np

from gearfit.units import SPEED_UNITS_MPS
from tests.importers.gpx_text import gpx, point
from tests.importers.nmea_text import rmc
from tests.odd_folders.machines import Floats, Ride
from tests.odd_folders.sheets import Style, number, speeds, table

#: When rides began; any date does.
START: Final = datetime(2026, 5, 10, 8, 30, tzinfo=UTC)
DEGREES_PER_M: Final = 1 / 111_200


def stamp(time_s: float, shift_s: float = 0.0) -> str:
    """Write a moment as ISO 8601 to the millisecond."""
    return (START + timedelta(seconds=time_s + shift_s)).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def text_log(
    ride: Ride,
    style: Style,
    *,
    absolute: bool = False,
    shift_s: float = 0.0,
    channels: Sequence[str] = ("speed", "rpm"),
) -> bytes:
    """Write a log with a time column: seconds, or moments in UTC."""
    times = [stamp(t, shift_s) if absolute else number(style, t + shift_s, 3) for t in ride.time_s.tolist()]
    columns = {"time" if absolute else "time_s": times}
    if "speed" in channels:
        columns[f"speed_{style.unit}"] = speeds(style, ride.speed_mps.tolist())
    if "rpm" in channels:
        columns["rpm"] = [number(style, one, 0) for one in ride.rpm.tolist()]
    if "indicated" in channels:
        columns[f"indicated_{style.unit}"] = speeds(style, (1.05 * ride.speed_mps).tolist())
    return table(style, columns)


def latitudes(ride: Ride) -> Floats:
    """Go north from 50 degrees."""
    steps = np.diff(ride.time_s, prepend=ride.time_s[:1]) * ride.speed_mps
    return np.asarray(50 + np.cumsum(steps) * DEGREES_PER_M)


def track(ride: Ride, *, speed: bool = True, rpm: bool = True, shift_s: float = 0.0) -> bytes:
    """Write a GPX track."""
    points = []
    for t, north, mps, turns in zip(
        ride.time_s.tolist(), latitudes(ride).tolist(), ride.speed_mps.tolist(), ride.rpm.tolist(), strict=True
    ):
        inside = (f"<a:speed>{mps:.3f}</a:speed>" if speed else "") + (f"<b:rpm>{turns:.0f}</b:rpm>" if rpm else "")
        points.append(point(north, 10, stamp(t, shift_s), f"<extensions>{inside}</extensions>" if inside else ""))
    return gpx(points).encode()


def sentences(ride: Ride, shift_s: float = 0.0) -> bytes:
    """Write NMEA sentences."""
    since_midnight = (START - START.replace(hour=0, minute=0)).total_seconds() + shift_s
    return "".join(
        rmc(
            since_midnight + t,
            mps / SPEED_UNITS_MPS["knot"],
            date="100526",
            lat=f"50{(north - 50) * 60:09.6f},N",
        )
        for t, north, mps in zip(ride.time_s.tolist(), latitudes(ride).tolist(), ride.speed_mps.tolist(), strict=True)
    ).encode()
