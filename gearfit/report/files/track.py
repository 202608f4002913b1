"""Tracks as GPX 1.1 with engine speed and gear of each point, and marks where gears were engaged and runs timed.

Engine speed, gear and speed stand in extension elements of a namespace of this project; any map program shows the
tracks and the marks, and gearfit reads speed and engine speed back.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree

import numpy as np

from gearfit.records.recording import Recording, RideFolder
from gearfit.records.results import Analysis, SetupResult
from gearfit.records.words import ordinal, span_label
from gearfit.report.files.tables import sample_file_names
from gearfit.units import from_mps

if TYPE_CHECKING:
    import gpxpy.gpx
    import pandas as pd

NAMESPACE: Final = "urn:gearfit:ride:1"
#: A pause longer than this begins a new segment, s.
_PAUSE_S: Final = 10.0
#: Extension element -> column.
_EXTENSIONS: Final = {"speed": "speed_mps", "rpm": "engine_rpm", "gear": "gear"}


def write_tracks(analysis: Analysis, folder: RideFolder, place: Path) -> list[str]:
    """Write one GPX file for each setup that has a track; return the names of the files."""
    names = [name.replace("samples_", "track_", 1) for name in sample_file_names([s.setup.name for s in folder.setups])]
    written = []
    for name, ride, result in zip(names, folder.setups, analysis.setups, strict=True):
        tracks = [recording for recording in ride.recordings if has_positions(recording)]
        if tracks:
            file = name.replace(".csv", ".gpx")
            text = track_text(analysis, result, tracks)
            (place / file).write_text(text, encoding="utf-8", newline="\n")
            written.append(file)
    return written


def has_positions(recording: Recording) -> bool:
    """Tell whether a recording has positions and an absolute clock."""
    return recording.clock == "utc" and bool(recording.samples["latitude_deg"].notna().any())


def track_text(analysis: Analysis, result: SetupResult, recordings: list[Recording]) -> str:
    """Return the GPX text of one setup."""
    import gpxpy.gpx

    whole = gpxpy.gpx.GPX()
    whole.creator = "gearfit"
    whole.nsmap["gearfit"] = NAMESPACE
    whole.name = f"{analysis.bike.name or 'Ride'}, {result.setup.name}"
    for recording in recordings:
        found = result.samples[result.samples["file"] == recording.file].set_index("row")
        points = recording.samples.copy()
        gear = points["row"].map(found["gear"].astype("Float64"))
        points["gear"] = gear.to_numpy(dtype=float, na_value=np.nan)
        points["engine_rpm"] = points["row"].map(found["engine_rpm"]).fillna(points["engine_rpm"])
        points = points[points["latitude_deg"].notna() & points["longitude_deg"].notna()]
        whole.tracks.append(_track(recording, points))
        whole.waypoints += _gear_marks(recording, points)
        whole.waypoints += _run_marks(recording, points, result, analysis.speed_unit)
    return whole.to_xml(version="1.1")


def _moment(recording: Recording, time_s: float) -> datetime:
    start = datetime.fromtimestamp(0, UTC) + timedelta(seconds=recording.start_s or 0.0)
    return start + timedelta(seconds=float(time_s))


def _track(recording: Recording, points: pd.DataFrame) -> gpxpy.gpx.GPXTrack:
    import gpxpy.gpx

    track = gpxpy.gpx.GPXTrack(name=recording.file)
    names = ["time_s", "latitude_deg", "longitude_deg", "elevation_m", *_EXTENSIONS.values()]
    last_s = -np.inf
    for row in points[names].to_numpy(dtype=float):
        time_s, latitude, longitude, height = map(float, row[:4])
        if time_s - last_s > _PAUSE_S:
            track.segments.append(gpxpy.gpx.GPXTrackSegment())
        last_s = time_s
        made = gpxpy.gpx.GPXTrackPoint(
            latitude, longitude, None if np.isnan(height) else height, _moment(recording, time_s)
        )
        for tag, value in zip(_EXTENSIONS, row[4:], strict=True):
            if not np.isnan(value):
                element = ElementTree.Element(f"{{{NAMESPACE}}}{tag}")
                element.text = f"{value:.9g}"
                made.extensions.append(element)
        track.segments[-1].points.append(made)
    return track


def _gear_marks(recording: Recording, points: pd.DataFrame) -> list[gpxpy.gpx.GPXWaypoint]:
    """Mark where each stretch in one gear begins."""
    gear = points["gear"].fillna(0.0).to_numpy()
    begins = np.flatnonzero((gear > 0) & (np.diff(gear, prepend=0.0) != 0))
    return [_mark(recording, points, at, f"{ordinal(int(gear[at]))} gear", "gear") for at in begins.tolist()]


def _run_marks(
    recording: Recording, points: pd.DataFrame, result: SetupResult, unit: str
) -> list[gpxpy.gpx.GPXWaypoint]:
    """Mark where each run found in this file begins and ends."""
    times = points["time_s"].to_numpy()
    marks = []
    for number, run in enumerate(result.timed_spans, start=1):
        if run.source != recording.file or run.start_s is None or not times.size:
            continue
        label = span_label(run.from_mps, run.to_mps, unit).replace("\N{NO-BREAK SPACE}", " ")
        begin, end = (int(np.abs(times - moment).argmin()) for moment in (run.start_s, run.start_s + run.time_s.value))
        marks.append(_mark(recording, points, begin, f"Run {number} begins: {label}", "run"))
        reached = f"Run {number} ends: {label} in {run.time_s.value:.2f} s"
        marks.append(_mark(recording, points, end, reached, "run"))
    return marks


def _mark(recording: Recording, points: pd.DataFrame, at: int, name: str, kind: str) -> gpxpy.gpx.GPXWaypoint:
    import gpxpy.gpx

    point = points.iloc[at]
    mark = gpxpy.gpx.GPXWaypoint(
        point["latitude_deg"], point["longitude_deg"], time=_moment(recording, point["time_s"]), name=name, type=kind
    )
    speed_mps = float(point["speed_mps"])
    mark.comment = "" if np.isnan(speed_mps) else f"{from_mps(speed_mps, 'kmh'):.0f} km/h"
    return mark
