"""Track points of a GPX file as arrays."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.common.content import Content
from gearfit.importers.common.quoting import quoted
from gearfit.importers.gpx.columns import NUMBERS, Columns, Wrong
from gearfit.importers.gpx.scan import scan_gpx

Floats = NDArray[np.float64]


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
        As `gearfit.importers.gpx.scan.scan_gpx`; no track; a point outside a track segment, without a time, with a
        time without zone or with an impossible position (by its number).
    """
    columns = scan_gpx(content.name, content.pieces)
    count = columns.count
    if not count:
        holds = "waypoints or a route only" if columns.has_route_or_waypoint else "no track points"
        raise LogError(
            content.name,
            f"there is no track, the file holds {holds}; allowed is a recorded track (trk, trkseg, trkpt)",
            "Record the ride as a track and export that",
        )
    if columns.outside:
        raise LogError(
            content.name,
            f"{columns.outside} of {count} track points lie outside trk and trkseg elements; allowed is none",
            "Export the track again from the recorder",
        )
    _refuse_without_times(content.name, columns)
    stated = columns.stated
    return Points(
        number=np.arange(1, count + 1),
        segment=columns.numbers["segment"].whole().astype(np.int64),
        **{name: columns.numbers[name].whole() for name in NUMBERS},
        speed_element="speed" if "speed" in stated else "speed (extension)" if "inner speed" in stated else "",
        rpm_element="rpm (extension)" if "rpm" in stated else "",
        notes=tuple(_no_number(label, wrong) for label, wrong in columns.no_number.items() if wrong.count),
    )


def _refuse_without_times(name: str, columns: Columns) -> None:
    """Refuse points without a time, with one that is none, or without a zone."""
    without, wrong, naive = columns.no_time, columns.bad_time, columns.no_zone
    if without.count == columns.count:
        raise LogError(
            name,
            f"none of the {without.count} track points has a time; allowed is a track recorded on the ride",
            "Export the recorded track, not a planned one",
        )
    if without.count:
        raise LogError(
            f"{name}, point {without.first}",
            f"the time is missing, as in {without.count} of {columns.count} points; every track point needs one",
            "Export the track again with times, or remove these points",
        )
    if wrong.count:
        raise LogError(
            f"{name}, point {wrong.first}",
            f"{quoted(wrong.text)} is no time; allowed is ISO 8601 such as 2024-05-01T12:00:00Z",
            "Export the track again, or correct the point",
        )
    if naive.count:
        raise LogError(
            f"{name}, point {naive.first}",
            f"the time {quoted(naive.text)} has no zone, as in {naive.count} of {columns.count} points; allowed "
            "is UTC with a Z, or an offset such as +02:00",
            "Export the track again, or write the zone",
        )


def _no_number(label: str, wrong: Wrong) -> str:
    count = "1 point" if wrong.count == 1 else f"{wrong.count} points"
    return f"Point {wrong.first}: {label} {quoted(wrong.text)} is no number; left out, as in {count}."
