"""Track points of a GPX file as arrays."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.content import Content
from gearfit.importers.gpx_scan import scan_gpx
from gearfit.importers.plain_numbers import plain_numbers
from gearfit.importers.quoting import quoted

Floats = NDArray[np.float64]
_ZONE: Final = re.compile(r"(?:[Zz]|[+-]\d{2}:?\d{2})$")


@dataclass(frozen=True, eq=False)
class Points:
    """Track points in the order of the file.

    Attributes
    ----------
    number : numpy.ndarray
        Number of the point in the whole file, from 1.
    segment : numpy.ndarray
        Number of the track segment.
    unix_s : numpy.ndarray
        Time in Unix seconds.
    latitude_deg, longitude_deg, elevation_m, speed_mps, engine_rpm : numpy.ndarray
        Values as recorded; NaN where a point has none.
    speed_element, rpm_element : str
        Where speeds and engine speeds stood, for people; empty where there are none.
    notes : tuple of str
        Values that are no numbers.
    """

    number: NDArray[np.int64]
    segment: NDArray[np.int64]
    unix_s: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    elevation_m: Floats
    speed_mps: Floats
    engine_rpm: Floats
    speed_element: str
    rpm_element: str
    notes: tuple[str, ...]

    def take(self, rows: NDArray[np.int64]) -> Points:
        """Return some of the points."""
        return replace(
            self,
            number=self.number[rows],
            segment=self.segment[rows],
            unix_s=self.unix_s[rows],
            latitude_deg=self.latitude_deg[rows],
            longitude_deg=self.longitude_deg[rows],
            elevation_m=self.elevation_m[rows],
            speed_mps=self.speed_mps[rows],
            engine_rpm=self.engine_rpm[rows],
        )


def read_points(content: Content) -> Points:
    """Read all track points.

    Raises
    ------
    LogError
        As `gearfit.importers.gpx_scan.scan_gpx`; no track; a point outside a track segment, without a time, with a
        time without zone or with an impossible position (by its number).
    """
    scan = scan_gpx(content.name, content.text or "")
    count = len(scan.segment)
    if not count:
        holds = "waypoints or a route only" if scan.has_route_or_waypoint else "no track points"
        raise LogError(
            content.name,
            f"there is no track, the file holds {holds}; allowed is a recorded track (trk, trkseg, trkpt)",
            "Record the ride as a track and export that",
        )
    if scan.outside:
        raise LogError(
            content.name,
            f"{scan.outside} of {count} track points lie outside trk and trkseg elements; allowed is none",
            "Export the track again from the recorder",
        )
    unix_s = _unix_times(content.name, scan.texts["time"])
    direct, inner = scan.texts["speed"], scan.texts["inner speed"]
    notes: list[str] = []
    return Points(
        number=np.arange(1, count + 1),
        segment=np.array(scan.segment, dtype=np.int64),
        unix_s=unix_s,
        latitude_deg=np.array(scan.latitude_deg),
        longitude_deg=np.array(scan.longitude_deg),
        elevation_m=_numbers("ele", scan.texts["ele"], notes),
        speed_mps=_numbers("speed", _first_of(direct, inner), notes),
        engine_rpm=_numbers("rpm", scan.texts["rpm"], notes),
        speed_element="speed" if any(direct) else "speed (extension)" if any(inner) else "",
        rpm_element="rpm (extension)" if any(scan.texts["rpm"]) else "",
        notes=tuple(notes),
    )


def _first_of(direct: list[str | None], inner: list[str | None]) -> list[str | None]:
    if not any(direct):
        return inner
    return [one or other for one, other in zip(direct, inner, strict=True)]


def _unix_times(name: str, times: list[str | None]) -> Floats:
    without = [number for number, text in enumerate(times, 1) if not text]
    if len(without) == len(times):
        raise LogError(
            name,
            f"none of the {len(without)} track points has a time; allowed is a track recorded on the ride",
            "Export the recorded track, not a planned one",
        )
    if without:
        raise LogError(
            f"{name}, point {without[0]}",
            f"the time is missing, as in {len(without)} of {len(times)} points; every track point needs one",
            "Export the track again with times, or remove these points",
        )
    texts = pd.Series(times, dtype="str")
    naive = np.flatnonzero(~texts.str.contains(_ZONE).to_numpy(dtype=bool))
    instants = pd.to_datetime(texts, format="ISO8601", utc=True, errors="coerce")
    wrong = np.flatnonzero(instants.isna().to_numpy())
    if wrong.size:
        raise LogError(
            f"{name}, point {wrong[0] + 1}",
            f"{quoted(texts.iloc[wrong[0]])} is no time; allowed is ISO 8601 such as 2024-05-01T12:00:00Z",
            "Export the track again, or correct the point",
        )
    if naive.size:
        raise LogError(
            f"{name}, point {naive[0] + 1}",
            f"the time {quoted(texts.iloc[naive[0]])} has no zone, as in {naive.size} of {len(texts)} points; allowed "
            "is UTC with a Z, or an offset such as +02:00",
            "Export the track again, or write the zone",
        )
    return instants.dt.tz_convert(None).to_numpy(dtype="datetime64[us]").astype(np.int64) / 1e6


def _numbers(label: str, texts: list[str | None], notes: list[str]) -> Floats:
    """Read numbers, NaN where a point has none; what is no number is noted."""
    plain = plain_numbers([text or "nan" for text in texts])
    if plain is not None and np.isfinite(plain).sum() == sum(map(bool, texts)):
        return plain
    column = pd.Series(texts, dtype="str")
    values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    values = np.where(np.isfinite(values), values, np.nan)
    wrong = np.flatnonzero(np.isnan(values) & (column.fillna("") != "").to_numpy())
    if wrong.size:
        count = "1 point" if wrong.size == 1 else f"{wrong.size} points"
        first = wrong[0]
        notes.append(f"Point {first + 1}: {label} {quoted(texts[first] or '')} is no number; left out, as in {count}.")
    return values
