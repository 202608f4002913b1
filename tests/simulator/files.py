"""Write recordings as the files that a rider would drop into a ride folder; the same recording gives the same bytes."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import gpxpy.gpx
import numpy as np

from gearfit.records.recording import Recording
from gearfit.units import SPEED_UNITS_MPS

#: Namespace of the elements `speed` (m/s) and `rpm` (rev/min) in the extensions of a track point.
NAMESPACE: Final = "https://gearfit.invalid/track/1"
_PREFIX: Final = "ride"


def write_track(recording: Recording, path: Path) -> None:
    """Write a track as GPX 1.1; speed, and engine speed where there is one, stand in the points' extensions."""
    gpx = gpxpy.gpx.GPX()
    gpx.creator = "gearfit simulation: an invented ride"
    gpx.nsmap = {_PREFIX: NAMESPACE}
    segment = gpxpy.gpx.GPXTrackSegment()
    samples = recording.samples
    start_s = recording.start_s or 0.0
    speed_decimals = _decimals(recording.speed_step_mps, 3)
    rpm_decimals = _decimals(recording.rpm_step_rpm, 1)
    rows = zip(
        samples["time_s"].tolist(),
        samples["latitude_deg"].tolist(),
        samples["longitude_deg"].tolist(),
        samples["elevation_m"].tolist(),
        samples["speed_mps"].tolist(),
        samples["engine_rpm"].tolist(),
        strict=True,
    )
    for time_s, latitude_deg, longitude_deg, elevation_m, speed_mps, engine_rpm in rows:
        point = gpxpy.gpx.GPXTrackPoint(latitude_deg, longitude_deg, elevation_m, _utc(start_s + time_s))
        point.extensions.append(_element("speed", f"{speed_mps:.{speed_decimals}f}"))
        if not np.isnan(engine_rpm):
            point.extensions.append(_element("rpm", f"{engine_rpm:.{rpm_decimals}f}"))
        segment.points.append(point)
    track = gpxpy.gpx.GPXTrack()
    track.segments.append(segment)
    gpx.tracks.append(track)
    _write(path, gpx.to_xml(version="1.1"))


def write_log(recording: Recording, path: Path, *, speed_unit: str = "kmh") -> None:
    """Write a log as comma-separated text.

    The time is seconds from the log's own start (`time_s`), or ISO 8601 in UTC (`time`) where the recording's clock is
    absolute; then come `rpm` and `speed_<unit>`, each where the recording has it; a cell is empty before the channel's
    first value.

    Parameters
    ----------
    recording : Recording
        Of kind "log".
    path : pathlib.Path
        File to write.
    speed_unit : str
        A key of `gearfit.units.SPEED_UNITS_MPS`.
    """
    samples = recording.samples
    start_s = recording.start_s or 0.0
    if recording.clock == "utc":
        header, cells = ["time"], [[_iso(start_s + time_s) for time_s in samples["time_s"].tolist()]]
    else:
        header, cells = ["time_s"], [[f"{start_s + time_s:.3f}" for time_s in samples["time_s"].tolist()]]
    if samples["engine_rpm"].notna().any():
        header.append("rpm")
        cells.append(_numbers(samples["engine_rpm"].tolist(), _decimals(recording.rpm_step_rpm, 1)))
    if samples["speed_mps"].notna().any():
        unit_mps = SPEED_UNITS_MPS[speed_unit]
        header.append(f"speed_{speed_unit}")
        step = None if recording.speed_step_mps is None else recording.speed_step_mps / unit_mps
        cells.append(_numbers((samples["speed_mps"] / unit_mps).tolist(), _decimals(step, 2)))
    _write_table(path, header, cells)


def write_sheet(recording: Recording, path: Path, *, speed_unit: str = "mph") -> None:
    """Write a hand-entered sheet: `gear,rpm`, then `speed_<unit>` and `indicated_<unit>` where they were read."""
    samples = recording.samples
    unit_mps = SPEED_UNITS_MPS[speed_unit]
    step = None if recording.speed_step_mps is None else recording.speed_step_mps / unit_mps
    header = ["gear", "rpm"]
    cells = [_numbers(samples["stated_gear"].tolist(), 0), _numbers(samples["engine_rpm"].tolist(), 0)]
    channels = {"speed": "speed_mps"} if recording.speed_source == "hand" else {}
    if samples["indicated_mps"].notna().any():
        channels["indicated"] = "indicated_mps"
    for name, channel in channels.items():
        header.append(f"{name}_{speed_unit}")
        cells.append(_numbers((samples[channel] / unit_mps).tolist(), _decimals(step, 1)))
    _write_table(path, header, cells)


def write_runs(recording: Recording, path: Path, *, speed_unit: str = "mph") -> None:
    """Write hand-timed runs: `from_<unit>,to_<unit>,time_s`, times to 0.01 s."""
    runs = recording.runs
    unit_mps = SPEED_UNITS_MPS[speed_unit]
    cells = [
        [f"{speed / unit_mps:.6g}" for speed in runs["from_mps"].tolist()],
        [f"{speed / unit_mps:.6g}" for speed in runs["to_mps"].tolist()],
        _numbers(runs["time_s"].tolist(), 2),
    ]
    _write_table(path, [f"from_{speed_unit}", f"to_{speed_unit}", "time_s"], cells)


def _decimals(step: float | None, otherwise: int) -> int:
    """Return the number of decimals that shows every multiple of `step`, at most six."""
    if step is None:
        return otherwise
    return next((k for k in range(6) if abs(step * 10**k - round(step * 10**k)) < 1e-6 * step * 10**k), 6)


def _numbers(values: Iterable[float], decimals: int) -> list[str]:
    return ["" if np.isnan(value) else f"{value:.{decimals}f}" for value in values]


def _utc(unix_s: float) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=round(unix_s * 1000))


def _iso(unix_s: float) -> str:
    return _utc(unix_s).strftime("%Y-%m-%dT%H:%M:%S.%f")[:-3] + "Z"


def _element(name: str, text: str) -> ET.Element:
    element = ET.Element(f"{{{NAMESPACE}}}{name}")
    element.text = text
    return element


def _write_table(path: Path, header: Sequence[str], cells: Sequence[Sequence[str]]) -> None:
    lines = [",".join(header), *(",".join(row) for row in zip(*cells, strict=True))]
    _write(path, "\n".join(lines) + "\n")


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8", newline="\n")
