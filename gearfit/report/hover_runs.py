"""Points of the pictures that show runs, measured and on paper, and thrust."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gearfit import words
from gearfit.report import runs_laid_over, speed_course, thrust_per_gear, timed_runs
from gearfit.report.run_groups import runs_in
from gearfit.report.told import MOST, Part, Told, column, every
from gearfit.results import Analysis, MeanCourse, RunTrace
from gearfit.thrust_results import GearThrust, SpeedCourse
from gearfit.units import from_mps

#: Points of one curve.
_CURVE = 60


def timed(analysis: Analysis) -> list[Told]:
    """Return each timed run, one `Told` per strip and setup."""
    found = []
    for panel, group in enumerate(timed_runs.strips(analysis)):
        for index, result in enumerate(analysis.setups):
            runs = runs_in(result.timed_spans, group)
            if runs:
                times = np.array([run.time_s.value for run in runs])
                parts = (
                    Part("run {} of {}", (column(np.arange(1, len(runs) + 1)), len(runs))),
                    Part("{}", ([words.value_and_interval(run.time_s, "s") for run in runs],)),
                    Part("{}", ([run.how or None for run in runs],)),
                    Part("{}", ([run.source for run in runs],)),
                )
                found.append(Told(panel, result.setup.name, times, np.full(len(runs), float(index)), parts))
    return found


def laid_over(analysis: Analysis) -> list[Told]:
    """Return mean course and single runs of each panel."""
    lines = [
        (panel, name, trace)
        for panel, drawn in enumerate(runs_laid_over.panels(analysis))
        for name, trace in runs_laid_over.lines_of(analysis, drawn)
    ]
    most = min(MOST // max(len(lines), 1), _CURVE)
    unit = from_mps(1.0, analysis.speed_unit)
    return [_run(panel, name, trace, unit, max(most, 2)) for panel, name, trace in lines]


def _run(panel: int, name: str, trace: RunTrace | MeanCourse, unit: float, most: int) -> Told:
    chosen = every(len(trace.time_s), most)
    time = trace.time_s[chosen]
    if isinstance(trace, MeanCourse):
        speed, low, high = (part[chosen] for part in (trace.mean_mps, trace.low_mps, trace.high_mps))
        parts: tuple[Part, ...] = (Part("runs from {speed} to {speed}", (column(low, 2), column(high, 2))),)
    else:
        speed = trace.speed_mps[chosen]
        gear = trace.gear[chosen].astype(np.float64)
        parts = (
            Part("{} rpm", (column(trace.engine_rpm[chosen]),)),
            Part("gear {}", (column(np.where(gear > 0, gear, np.nan)),)),
        )
    told = (Part("{1} s", (column(time, 1),)), Part("{speed}", (column(speed, 2),)), *parts)
    return Told(panel, name, np.asarray(time, np.float64), unit * speed, told)


def thrust(analysis: Analysis) -> list[Told]:
    """Return the thrust in each gear with either gearing, and the resistance."""
    found = []
    unit = from_mps(1.0, analysis.speed_unit)
    for panel, (_, swap) in enumerate(thrust_per_gear.swaps(analysis)):
        for gearing in (swap.reference, swap.other):
            found += [_thrust(panel, gearing.name, each, unit) for each in gearing.thrust]
        speed, force = np.array(swap.resistance_mps), np.array(swap.resistance_n)
        parts = (Part("{speed}", (column(speed, 2),)), Part("{} N", (column(force),)))
        found.append(Told(panel, "resistance on the level", unit * speed, force, parts))
    return found


def _thrust(panel: int, name: str, each: GearThrust, unit: float) -> Told:
    chosen = every(len(each.speed_mps), _CURVE // 2)
    speed, force = (np.array(values)[chosen] for values in (each.speed_mps, each.thrust_n))
    parts = (
        Part("{speed}", (column(speed, 2),)),
        Part("{} N", (column(force),)),
        Part("95 %: {} to {} N", tuple(column(np.array(ends)[chosen]) for ends in (each.lo95_n, each.hi95_n))),
    )
    return Told(panel, f"{name}, {words.ordinal(each.gear)} gear", unit * speed, force, parts)


def courses(analysis: Analysis) -> list[Told]:
    """Return speed against time on paper with either gearing."""
    unit = from_mps(1.0, analysis.speed_unit)
    return [
        _course(panel, name, course, unit)
        for panel, (_, swap) in enumerate(speed_course.with_courses(analysis))
        for name, course in speed_course.to_one_speed(swap)
    ]


def _course(panel: int, name: str, course: SpeedCourse, unit: float) -> Told:
    chosen = every(len(course.time_s), 2 * _CURVE)
    time, speed = _arrays((course.time_s, course.speed_mps))
    gear = np.array(course.gear, dtype=np.float64)
    parts = (
        Part("{1} s", (column(time[chosen], 1),)),
        Part("{speed}", (column(speed[chosen], 2),)),
        Part("gear {}", (column(np.where(gear > 0, gear, np.nan)[chosen]),)),
    )
    return Told(panel, name, time[chosen], unit * speed[chosen], parts)


def _arrays(columns: Sequence[Sequence[float]]) -> list[np.ndarray[tuple[int], np.dtype[np.float64]]]:
    return [np.array(values, dtype=np.float64) for values in columns]
