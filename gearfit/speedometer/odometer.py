"""What the odometer counts per true distance: readings at both ends against a known distance or the track."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from gearfit.fitting.ratios.quantiles import estimate
from gearfit.records.estimate import Estimate
from gearfit.records.recording import INSTRUMENTS, OdometerReading, Recording

#: A track's speeds are not summed over longer pauses, s; more of the time than this share missing is too much.
_PAUSE_S, _MOST_MISSING = 5.0, 0.02
#: Relative standard error of a distance from a receiver's speed, and of one that the rider noted (our assumptions).
_TRACK_SD: Final = 0.001
_NOTED_SD: Final = 0.002
#: Degrees of freedom credited to errors that were stated and not found from scatter.
_STATED_DOF: Final = 60.0


@dataclass(frozen=True)
class Odometer:
    """Distance counted per true distance, the rides behind it, and how far they were (m)."""

    factor: Estimate
    rides: int
    true_m: float


def check_odometer(recordings: Sequence[Recording]) -> Odometer | str | None:
    """Compare odometer and true distance in one setup.

    Parameters
    ----------
    recordings : sequence of Recording
        A sheet of odometer readings with the true distance in each row; or with one row, for all tracks of the setup
        together, or one row for each track in order of file name.

    Returns
    -------
    Odometer, str or None
        The factor; or why there is none; None where nothing was noted.
    """
    readings = [reading for recording in recordings for reading in recording.odometer]
    if not readings:
        return None
    paired = _paired(readings, [r for r in recordings if _has_speeds(r)])
    if isinstance(paired, str):
        return paired
    counted = np.array([reading.end_m - reading.start_m for reading in readings])
    step = np.array([reading.step_m for reading in readings])
    true = np.array([distance for distance, _ in paired])
    true_sd = np.array([distance * sd for distance, sd in paired])
    if not (true > 0).all() or not (counted > 0).all():
        return "a ride of no length tells nothing: note the reading at its start, at its end, and how far it was"
    ratio = counted / true
    # Two readings, each uniform within the step (the odometer shows whole steps only): step/sqrt(12) each.
    sd = np.sqrt(step**2 / 6 + (ratio * true_sd) ** 2) / true
    weight = sd**-2
    factor = float(np.average(ratio, weights=weight))
    worse = float(np.sum(weight * (ratio - factor) ** 2)) / (ratio.size - 1) if ratio.size > 1 else 1.0
    dof = ratio.size - 1 if worse > 1 else _STATED_DOF
    return Odometer(
        estimate(factor, float(np.sqrt(max(1.0, worse) / weight.sum())), float(dof)), ratio.size, float(true.sum())
    )


def _has_speeds(recording: Recording) -> bool:
    return (
        recording.kind in ("track", "log")
        and recording.speed_source not in (*INSTRUMENTS, "none")
        and bool(recording.samples["speed_mps"].notna().any())
    )


def _paired(readings: Sequence[OdometerReading], tracks: Sequence[Recording]) -> list[tuple[float, float]] | str:
    """Return the true distance of each ride with its relative standard error; or why there is none."""
    noted = [reading.true_m for reading in readings]
    known = [(distance, _NOTED_SD) for distance in noted if distance is not None]
    if len(known) == len(readings):
        return known
    if known or not tracks or len(readings) not in (1, len(tracks)):
        return (
            f"{len(readings)} rides by the odometer and {len(tracks)} tracks cannot be paired: note the true distance "
            "(odometer_true_km) in each row, or one row for each track, or one row for all of them together"
        )
    lengths = [track_length_m(track) for track in tracks]
    whole = [length for length in lengths if length is not None]
    if len(whole) < len(lengths):
        return "a track has gaps, so its length is not known"
    if len(readings) == 1:
        whole = [sum(whole)]
    return [(length, _TRACK_SD) for length in whole]


def track_length_m(track: Recording) -> float | None:
    """Length of a track as the integral of its speeds (trapezoids); None where reception failed for too long."""
    samples = track.samples
    keep = (samples["speed_mps"].notna() & samples["speed_fresh"]).to_numpy()
    time_s, speed = samples["time_s"].to_numpy()[keep], samples["speed_mps"].to_numpy()[keep]
    step_s = np.diff(time_s)
    pause = step_s > _PAUSE_S
    moving = np.maximum(speed[1:], speed[:-1]) > 1.0
    total_s = float(time_s[-1] - time_s[0]) if time_s.size else 0.0
    if total_s <= 0 or float(step_s[pause & moving].sum()) > _MOST_MISSING * total_s:
        return None
    return float(np.sum((speed[1:] + speed[:-1]) / 2 * step_s))
