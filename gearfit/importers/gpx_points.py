"""Track points of a GPX file as arrays, through gpxpy."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Final

import gpxpy
import gpxpy.gpx
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.content import Content
from gearfit.importers.gpx_scan import Scan, scan_gpx

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
        As `gearfit.importers.gpx_scan.scan_gpx`; no track; a point without a time, with a time without zone or with
        an impossible position (by its number).
    """
    scan = scan_gpx(content.name, content.data)
    if not scan.times:
        holds = "waypoints or a route only" if scan.has_route_or_waypoint else "no track points"
        raise LogError(
            content.name,
            f"there is no track, the file holds {holds}; allowed is a recorded track (trk, trkseg, trkpt)",
            "Record the ride as a track and export that",
        )
    unix_s = _unix_times(content.name, scan)
    try:
        track = gpxpy.parse((content.text or "").lstrip())
    except (gpxpy.gpx.GPXException, ValueError) as error:
        raise LogError(
            content.name,
            f"a value in the file is not what GPX allows ({error})",
            "Export the track again from the recorder",
        ) from error
    return _arrays(content.name, track, unix_s, scan)


def _unix_times(name: str, scan: Scan) -> Floats:
    without = [number for number, text in enumerate(scan.times, 1) if not text]
    if len(without) == len(scan.times):
        raise LogError(
            name,
            f"none of the {len(without)} track points has a time; allowed is a track recorded on the ride",
            "Export the recorded track, not a planned one",
        )
    if without:
        raise LogError(
            f"{name}, point {without[0]}",
            f"the time is missing, as in {len(without)} of {len(scan.times)} points; every track point needs one",
            "Export the track again with times, or remove these points",
        )
    texts = pd.Series(scan.times, dtype="str")
    naive = np.flatnonzero(~texts.str.contains(_ZONE).to_numpy(dtype=bool))
    instants = pd.to_datetime(texts, format="ISO8601", utc=True, errors="coerce")
    wrong = np.flatnonzero(instants.isna().to_numpy())
    if wrong.size:
        raise LogError(
            f"{name}, point {wrong[0] + 1}",
            f"{texts.iloc[wrong[0]]!r} is no time; allowed is ISO 8601 such as 2024-05-01T12:00:00Z",
            "Export the track again, or correct the point",
        )
    if naive.size:
        raise LogError(
            f"{name}, point {naive[0] + 1}",
            f"the time {texts.iloc[naive[0]]!r} has no zone, as in {naive.size} of {len(texts)} points; allowed is "
            "UTC with a Z, or an offset such as +02:00",
            "Export the track again, or write the zone",
        )
    return instants.dt.tz_convert(None).to_numpy(dtype="datetime64[us]").astype(np.int64) / 1e6


def _arrays(name: str, gpx: gpxpy.gpx.GPX, unix_s: Floats, scan: Scan) -> Points:
    places: list[tuple[float, float, float, float]] = []
    texts: dict[str, list[str | None]] = {"speed": [], "rpm": []}
    for segment, point in _track_points(gpx):
        elevation = np.nan if point.elevation is None else float(point.elevation)
        places.append((segment, point.latitude, point.longitude, elevation))
        found = _extension_texts(point)
        for key, column in texts.items():
            column.append(found.get(key))
    if len(places) != unix_s.size:
        raise LogError(
            name,
            f"{len(places)} of {unix_s.size} track points lie in trk and trkseg elements; allowed is all of them, with "
            "GPX as the default namespace",
            "Export the track again from the recorder",
        )
    elements = {key: f"{key} (extension)" if any(column) else "" for key, column in texts.items()}
    if any(scan.speeds):
        elements["speed"] = "speed"
        texts["speed"] = [direct or inner for direct, inner in zip(scan.speeds, texts["speed"], strict=True)]
    notes: list[str] = []
    speed_mps, engine_rpm = (_numbers(key, column, notes) for key, column in texts.items())
    segments, latitude_deg, longitude_deg, elevation_m = np.array(places, dtype=np.float64).T
    return Points(
        number=np.arange(1, unix_s.size + 1),
        segment=segments.astype(np.int64),
        unix_s=unix_s,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
        speed_mps=speed_mps,
        engine_rpm=engine_rpm,
        speed_element=elements["speed"],
        rpm_element=elements["rpm"],
        notes=tuple(notes),
    )


def _track_points(gpx: gpxpy.gpx.GPX) -> Iterator[tuple[int, Any]]:
    segments = (segment for track in gpx.tracks for segment in track.segments)
    for number, segment in enumerate(segments, 1):
        for point in segment.points:
            yield number, point


def _extension_texts(point: Any) -> dict[str, str]:  # noqa: ANN401 (gpxpy's points are not typed)
    """Speed (m/s) and engine speed (rpm) of a point from extensions, at any depth and in any namespace."""
    found: dict[str, str] = {}
    for extension in point.extensions:
        for element in extension.iter():
            local = str(element.tag).rpartition("}")[2].rpartition(":")[2].lower()
            if local in ("speed", "rpm") and element.text and local not in found:
                found[local] = element.text.strip()
    return found


def _numbers(label: str, texts: list[str | None], notes: list[str]) -> Floats:
    """Read numbers, NaN where a point has none; what is no number is noted."""
    column = pd.Series(texts, dtype="str")
    values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    wrong = np.flatnonzero(np.isnan(values) & (column.fillna("") != "").to_numpy())
    if wrong.size:
        count = "1 point" if wrong.size == 1 else f"{wrong.size} points"
        first = wrong[0]
        notes.append(f"Point {first + 1}: {label} {texts[first]!r} is no number; left out, as in {count}.")
    return values
