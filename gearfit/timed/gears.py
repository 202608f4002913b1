"""Gears used in a run, and what each change of gear cost."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np

from gearfit.fitting.ratios.levels import Levels
from gearfit.records.results import RunTrace, Shift
from gearfit.timed.trace import FloatArray, Trace

#: Engagements shorter than this are none, s. Samples at a longer interval show no time lost.
_SHORTEST_S: Final = 0.25
_FAST_S: Final = 0.25
#: Samples this close to a gear's level, in ln(n/v), may belong to it; lag and slip move hard starts by so much.
_NEAR_LEVEL: Final = 0.025
#: What lies this near the line of the engine speeds before a shift, share, is still in gear.
_ON_LINE: Final = 0.01
#: Beside a shift the acceleration is looked at over this time, s.
_BESIDE_S: Final = 0.5
_LEAST_BESIDE: Final = 3
#: Moments this near are one, s.
_SAME_S: Final = 1e-6


def with_short_engagements(trace: Trace, levels: Levels | None) -> Trace:
    """Give a gear to samples without one whose ratio, like a neighbour's, lies close to that gear's level.

    In a hard start first gear lasts less than a second, too short for the fit, which wants to be certain.
    """
    if levels is None:
        return trace
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.log(trace.engine_rpm / trace.speed_mps)
    off = np.abs(ratio[:, None] - levels.log_ratio[None, :])
    off = np.where(np.isfinite(off), off, np.inf)
    best = np.argmin(off, axis=1)
    close = np.where(off[np.arange(best.size), best] < _NEAR_LEVEL, levels.gear[best], 0)
    known = np.where(trace.gear > 0, trace.gear, close)
    alike = np.diff(known) == 0
    paired = np.concatenate([alike, [False]]) | np.concatenate([[False], alike])
    gear = np.where((trace.gear == 0) & paired, close, trace.gear)
    return replace(trace, gear=gear, has_gears=bool(np.any(gear > 0)))


def engagements(trace: RunTrace, end_s: float, interval_s: float) -> list[tuple[int, int, int]]:
    """Return (gear, first, last sample) of each engagement from the start of the run to its end."""
    inside = np.flatnonzero((trace.time_s >= 0) & (trace.time_s <= end_s))
    found: list[tuple[int, int, int]] = []
    for k in inside.tolist():
        gear = int(trace.gear[k])
        if not gear:
            continue
        if found and found[-1][0] == gear:
            found[-1] = (gear, found[-1][1], k)
        else:
            found.append((gear, k, k))
    least = min(_SHORTEST_S, 0.9 * interval_s)
    return [
        part for part in found if trace.time_s[part[2]] - trace.time_s[part[1]] + interval_s > least + interval_s / 2
    ]


def shifts_in(
    trace: RunTrace,
    parts: list[tuple[int, int, int]],
    interval_s: float,
    rpm_time_s: FloatArray,
    engine_rpm: FloatArray,
) -> tuple[Shift, ...]:
    """Return the changes of gear between engagements.

    Parameters
    ----------
    trace : RunTrace
        Course of the run.
    parts : list of (gear, first, last sample)
        As `engagements`.
    interval_s : float
        Usual time between samples.
    rpm_time_s, engine_rpm : (m,) float
        Engine speeds as recorded, on the clock of the course.
    """
    found = []
    for (gear, start, leave), (other, enter, stop) in pairwise(parts):
        if other == gear:
            continue
        gap_s = float(trace.time_s[enter] - trace.time_s[leave])
        ends = (float(trace.time_s[k]) for k in (start, leave, enter))
        rpm = _shift_rpm(rpm_time_s, engine_rpm, *ends) if interval_s <= _FAST_S else np.nan
        rpm = rpm if np.isfinite(rpm) else float(trace.engine_rpm[leave])
        found.append(
            Shift(
                time_s=float(trace.time_s[leave]),
                speed_mps=float(trace.speed_mps[leave]),
                from_gear=gear,
                to_gear=other,
                engine_rpm=rpm if np.isfinite(rpm) else None,
                # The edges lie half an interval from the samples on average, on either side.
                duration_s=max(gap_s - interval_s, 0.0),
                lost_s=_lost(trace, (start, leave), (enter, stop), gap_s) if interval_s <= _FAST_S else None,
            )
        )
    return tuple(found)


def _shift_rpm(time_s: FloatArray, rpm: FloatArray, start_s: float, leave_s: float, enter_s: float) -> float:
    """Engine speed at which a gear was left; NaN where fewer than two samples tell.

    The last sample in gear is up to an interval too early, and the fit calls it in gear only where it is certain. The
    line through the samples of the last half second goes on until the first that has left it, less half an interval.
    """
    inside = (time_s >= max(start_s, leave_s - _BESIDE_S) - _SAME_S) & (time_s <= leave_s + _SAME_S)
    if inside.sum() < 2:
        return float(np.nan)
    line = np.polynomial.Polynomial.fit(time_s[inside], rpm[inside], 1)
    last = int(np.flatnonzero(inside)[-1])
    while last + 1 < time_s.size and time_s[last + 1] < enter_s:
        expected = line(time_s[last + 1])
        if abs(rpm[last + 1] - expected) > _ON_LINE * expected:
            break
        last += 1
    if last + 1 == time_s.size:
        return float(rpm[last])
    return float(line(0.5 * (time_s[last] + time_s[last + 1])))


def _lost(trace: RunTrace, before: tuple[int, int], after: tuple[int, int], duration_s: float) -> float | None:
    """Time lost: the gap less what the speed gained across it over the mean acceleration of the two sides."""
    sides = []
    for first, last in (before, after):
        k = np.arange(first, last + 1)
        edge = trace.time_s[before[1]] if first == before[0] else trace.time_s[after[0]]
        k = k[np.abs(trace.time_s[k] - edge) <= _BESIDE_S]
        if k.size < _LEAST_BESIDE:
            return None
        sides.append(float(np.polyfit(trace.time_s[k], trace.recorded_mps[k], 1)[0]))
    mean = 0.5 * (sides[0] + sides[1])
    if min(sides) <= 0:
        return None
    gained = float(trace.speed_mps[after[0]] - trace.speed_mps[before[1]])
    return duration_s - gained / mean
