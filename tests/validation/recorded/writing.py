"""Logs and bike.toml as files."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from tests.validation.recorded.machines import Machine
from tests.validation.recorded.ride import Ridden
from tests.validation.recorded.roads import SPACING_M

Floats = NDArray[np.float64]

#: WGS 84, metres a radian at latitude 0.5 degrees: along the meridian, along the equator.
NORTH_M, EAST_M = 6_335_500.0, 6_378_000.0
KMH, MPH, KNOTS = 3.6, 3.6 / 1.609344, 3.6 / 1.852

#: Headers of speed by whose speed it is: header, factor from m/s.
GPS_HEADERS = (("speed_kmh", KMH), ("GPS Speed (km/h)", KMH), ("gps_speed_mph", MPH), ("GPS speed [m/s]", 1.0))
OWN_HEADERS = (
    ("Vehicle Speed (km/h)", KMH),
    ("vehicle_speed_kmh", KMH),
    ("Wheel speed [km/h]", KMH),
    ("OBD speed (km/h)", KMH),
)


@dataclass(frozen=True, eq=False)
class Log:
    """What was recorded: each channel with its times, s; speeds in m/s."""

    speed_time_s: Floats
    speed_mps: Floats
    rpm_time_s: Floats
    rpm: Floats


def csv_log(log: Log, header: tuple[str, float], decimals: int | None, rng: np.random.Generator) -> str:
    """One table on one clock; `decimals` of the speed, None for whole numbers cut down."""
    semicolon = bool(rng.random() < 0.25)
    mark, point = (";", ",") if semicolon else (",", ".")
    names = (["time_s", "rpm"], ["Time (s)", "Engine RPM"], ["elapsed_s", "Engine speed [rpm]"])[int(rng.integers(3))]
    shown = log.speed_mps * header[1]
    speeds = [str(int(v)) for v in shown] if decimals is None else [f"{v:.{decimals}f}" for v in shown]
    rows = [
        mark.join([f"{t:.3f}".replace(".", point), f"{n:.0f}", v.replace(".", point)])
        for t, n, v in zip(log.speed_time_s, log.rpm, speeds, strict=True)
    ]
    return "\n".join([mark.join([*names, header[0]]), *rows]) + "\n"


def rpm_log(log: Log, begin: datetime) -> str:
    """Engine speeds with their times in UTC."""
    rows = [f"{_iso(begin, t)},{n:.0f}" for t, n in zip(log.rpm_time_s, log.rpm, strict=True)]
    return "\n".join(["time,rpm", *rows]) + "\n"


def gpx(log: Log, ridden: Ridden, begin: datetime, rng: np.random.Generator) -> str:
    """A track with speeds."""
    lat, lon, height = _places(log.speed_time_s, ridden, rng)
    points = [
        f'<trkpt lat="{a:.7f}" lon="{o:.7f}"><ele>{h:.1f}</ele><time>{_iso(begin, t)}</time>'
        f"<extensions><r:speed>{v:.2f}</r:speed></extensions></trkpt>"
        for a, o, h, t, v in zip(lat, lon, height, log.speed_time_s, log.speed_mps, strict=True)
    ]
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="an invented recorder" '
        'xmlns="http://www.topografix.com/GPX/1/1" xmlns:r="urn:example:ride"><trk><trkseg>\n'
    )
    return head + "\n".join(points) + "\n</trkseg></trk></gpx>\n"


def nmea(log: Log, ridden: Ridden, begin: datetime, rng: np.random.Generator) -> str:
    """RMC and GGA sentences."""
    lat, lon, height = _places(log.speed_time_s, ridden, rng)
    lines = []
    for a, o, h, t, v in zip(lat, lon, height, log.speed_time_s, log.speed_mps, strict=True):
        at = begin + timedelta(seconds=float(round(t, 2)))
        clock = at.strftime("%H%M%S.") + f"{round(at.microsecond / 1e4) % 100:02d}"
        place = f"{_degrees(a, 2)},N,{_degrees(o, 3)},E"
        lines.append(_sentence(f"GPRMC,{clock},A,{place},{v * KNOTS:.3f},,{at:%d%m%y},,,A"))
        lines.append(_sentence(f"GPGGA,{clock},{place},1,09,0.9,{h:.1f},M,0.0,M,,"))
    return "\r\n".join(lines) + "\r\n"


def bike_toml(machine: Machine, front: int, rear: int, states: dict[str, bool | str | float]) -> str:
    """What is known of the machine; `front` and `rear` are those of the second setup."""
    lines = ['name = "Invented 1"', "", "[engine]", "cylinders = 2", "strokes = 4"]
    if states["limit"]:
        lines.append(f"limit_rpm = {machine.limit_rpm:.0f}")
    if states["gearbox"]:
        gears = ", ".join(f'"{driven}/{driving}"' for driven, driving in machine.gears)
        lines += ["", "[gearbox]", f'primary = "{machine.primary[0]}/{machine.primary[1]}"', f"gears = [{gears}]"]
    lines += ["", "[final_drive]", 'kind = "chain"', f"front = {machine.front}", f"rear = {machine.rear}"]
    if states["tyre"]:
        width, aspect, rim = machine.tyre
        lines += ["", "[tyre]", f'size = "{width}/{aspect}-{rim}"']
    if states["driven_from"]:
        lines += ["", "[speedometer]", f'driven_from = "{states["driven_from"]}"']
    if states["mass"]:
        lines += ["", "[mass]", f"total_kg = {machine.mass_kg:.0f}"]
    lines += ["", "[setups.before]", "", "[setups.after]", f"front = {front}", f"rear = {rear}"]
    return "\n".join(lines) + "\n"


def _places(times: Floats, ridden: Ridden, rng: np.random.Generator) -> tuple[Floats, Floats, Floats]:
    """Latitude, longitude, height: where the machine was, within metres that change slowly."""
    at = np.minimum((ridden.way_m / SPACING_M).astype(int), ridden.road.slope.size - 1)
    step = np.diff(ridden.way_m, prepend=0.0)
    heading = ridden.road.heading[at]
    east, north = np.cumsum(step * np.sin(heading)), np.cumsum(step * np.cos(heading))
    up = np.cumsum(step * ridden.road.slope[at])
    coarse = np.arange(0, ridden.time_s[-1] + 40, 20.0)
    off = [np.interp(times, coarse, rng.normal(0, 1.5, coarse.size)) for _ in range(3)]
    east, north, up = (
        np.interp(times, ridden.time_s, way) + error for way, error in zip((east, north, up), off, strict=True)
    )
    return 0.5 + np.degrees(north / NORTH_M), 0.5 + np.degrees(east / EAST_M), 20 + up


def _iso(begin: datetime, seconds: float) -> str:
    return (begin + timedelta(seconds=float(seconds))).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _degrees(value: float, digits: int) -> str:
    whole = int(value)
    return f"{whole:0{digits}d}{60 * (value - whole):09.6f}"


def _sentence(body: str) -> str:
    return f"${body}*{reduce(lambda check, letter: check ^ ord(letter), body, 0):02X}"


BEGINS = {"before": datetime(2026, 5, 10, 8, 30, tzinfo=UTC), "after": datetime(2026, 5, 10, 14, 5, tzinfo=UTC)}
