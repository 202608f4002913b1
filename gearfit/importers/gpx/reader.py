"""GPX 1.0 and 1.1 tracks."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.importers.common.content import Content, is_web_page
from gearfit.importers.common.options import ReadOptions
from gearfit.importers.common.stray_times import stray_note, strays
from gearfit.importers.common.track_speed import derive_speed, derived_note
from gearfit.importers.common.written_step import written_step
from gearfit.importers.gpx.points import Points, read_points
from gearfit.records.recording import Column, Recording, SpeedSource
from gearfit.records.schema import HEIGHTS_M, RPM_CEILING_RPM, SPEED_CEILING_MPS, run_table, sample_table

Floats = NDArray[np.float64]

_SPEEDS_MPS: Final = (0.0, SPEED_CEILING_MPS)
_POSITION_HEADERS: Final = (("time", "time_s", "ISO 8601"), ("lat", "latitude_deg", "degrees"))


def is_gpx(content: Content, _: ReadOptions) -> bool:
    """Whether a file is XML (and no web page); the reader then refuses a root other than `gpx`."""
    return content.start.startswith("<") and not is_web_page(content.start)


def read_gpx(content: Content, _: ReadOptions) -> Recording:
    """Read a GPX track.

    Speed is the receiver's own where the points have one (`speed`, or an extension of that name, m/s), else derived
    from the positions. Segments and tracks are joined; points out of order are sorted; of points with one time the
    first is kept.

    Raises
    ------
    LogError
        As `gearfit.importers.gpx.points.read_points`.
    """
    points, notes = _in_order(read_points(content))
    notes = [*notes, *points.notes]
    speed_mps, notes_speed = _within(points.speed_mps, _SPEEDS_MPS, "speed", "m/s", points)
    engine_rpm, notes_rpm = _within(points.engine_rpm, (0.0, RPM_CEILING_RPM), "rpm", "rpm", points)
    elevation_m, notes_height = _within(points.elevation_m, HEIGHTS_M, "height", "m", points)
    notes += notes_speed + notes_rpm + notes_height
    time_s = points.unix_s - points.unix_s[0]
    source: SpeedSource = "receiver"
    speed_step = _step(speed_mps)
    speed_sd_mps = _uniform_sd(speed_mps, speed_step)
    if not np.isfinite(speed_mps).any():
        source = "position"
        derived = derive_speed(points.unix_s, points.latitude_deg, points.longitude_deg, points.segment)
        speed_mps, notes_speed = _within(derived.speed_mps, _SPEEDS_MPS, "speed from positions", "m/s", points)
        speed_sd_mps, speed_step = derived.speed_sd_mps, None
        notes += [*notes_speed, derived_note(derived.noise_m)]
        if not np.isfinite(speed_mps).any():
            source = "none"
    rpm_step = _step(engine_rpm)
    samples = sample_table(
        content.name,
        time_s.size,
        row=points.number,
        time_s=np.round(time_s, 6),
        speed_mps=speed_mps,
        speed_sd_mps=np.where(np.isfinite(speed_mps), speed_sd_mps, np.nan),
        engine_rpm=engine_rpm,
        rpm_sd_rpm=_uniform_sd(engine_rpm, rpm_step),
        elevation_m=elevation_m,
        latitude_deg=points.latitude_deg,
        longitude_deg=points.longitude_deg,
    )
    return Recording(
        file=content.name,
        kind="track",
        samples=samples,
        runs=run_table(content.name, 0),
        clock="utc",
        start_s=float(points.unix_s[0]),
        speed_source=source,
        speed_step_mps=speed_step,
        rpm_step_rpm=rpm_step,
        columns=_columns(points),
        notes=tuple(notes),
    )


def _in_order(points: Points) -> tuple[Points, list[str]]:
    notes = []
    stray = strays(points.unix_s)
    if stray.any():
        notes.append(stray_note(int(stray.sum()), "point", f"point {points.number[stray][0]}"))
        points = points.take(np.flatnonzero(~stray))
    back = int((points.unix_s < np.maximum.accumulate(points.unix_s)).sum())
    if back:
        notes.append(f"{_count(back)} out of order put in order of time.")
    order = np.argsort(points.unix_s, kind="stable")
    repeated = np.concatenate(([False], np.diff(points.unix_s[order]) == 0))
    if repeated.any():
        notes.append(f"{_count(int(repeated.sum()))} with the time of an earlier point left out.")
    segments = np.unique(points.segment).size
    if segments > 1:
        notes.append(f"{segments} track segments joined.")
    return points.take(order[~repeated].astype(np.int64)) if back or repeated.any() else points, notes


def _within(
    values: Floats, limits: tuple[float, float], label: str, unit: str, points: Points
) -> tuple[Floats, list[str]]:
    """Set values outside the limits missing, with a note."""
    lowest, highest = limits
    wrong = np.flatnonzero((values < lowest) | (values > highest))
    if not wrong.size:
        return values, []
    kept = values.copy()
    kept[wrong] = np.nan
    first = wrong[0]
    return kept, [
        f"Point {points.number[first]}: {label} {values[first]:.4g} {unit} is outside {lowest:g} to {highest:g}; left "
        f"out, as in {_count(wrong.size)}."
    ]


def _step(values: Floats) -> float | None:
    return written_step(values[np.isfinite(values)])


def _uniform_sd(values: Floats, step: float | None) -> Floats:
    """Return the standard error of a value written in steps, step / sqrt(12); NaN where there is no value."""
    return np.where(np.isfinite(values), np.nan if step is None else step / np.sqrt(12.0), np.nan)


def _columns(points: Points) -> tuple[Column, ...]:
    found = [Column(*header) for header in (*_POSITION_HEADERS, ("lon", "longitude_deg", "degrees"))]
    if np.isfinite(points.elevation_m).any():
        found.append(Column("ele", "elevation_m", "m"))
    if points.speed_element:
        found.append(Column(points.speed_element, "speed_mps", "m/s"))
    if points.rpm_element:
        found.append(Column(points.rpm_element, "engine_rpm", "rpm"))
    return tuple(found)


def _count(count: int) -> str:
    return "1 point" if count == 1 else f"{count} points"
