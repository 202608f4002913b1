"""How the rider starts and shifts, as seen: from each run its launch, the speed at each shift and the time it took."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.thrust.envelope import Open
from gearfit.thrust.machine import Machine
from gearfit.thrust.traces import Trace

FloatArray = NDArray[np.float64]

_STANDING_MPS: Final = 0.5
_LONGEST_LAUNCH_S: Final = 6.0
_LONGEST_SHIFT_S: Final = 1.6
_AROUND_S: Final = 0.5
_LEAST_LAUNCH: Final = 4


@dataclass(frozen=True)
class SeenLaunch:
    """One start: engine speed at which first gear is in, mean acceleration up to there (NaN: too few samples)."""

    engaged_rpm: float
    acceleration_mps2: float
    start_s: float
    file: str


@dataclass(frozen=True)
class SeenShift:
    """One change up with the throttle open before and after; `run` counts the runs that they belong to."""

    run: int
    from_gear: int
    engine_rpm: float
    time_s: float


def seen_launches(firsts: list[Open], speed_per_rpm: float) -> list[SeenLaunch]:
    """Return the launches before stretches in first gear that follow a standstill."""
    return [
        launch for first in firsts if (launch := _launch(first.trace, first.place.start, speed_per_rpm)) is not None
    ]


def _launch(trace: Trace, first: int, speed_per_rpm: float) -> SeenLaunch | None:
    """Go back from the first sample in gear; a stretch may begin a little after it."""
    while first > 0 and trace.gear[first - 1] == 1:
        first -= 1
    standing = np.flatnonzero(trace.speed_mps[:first] < _STANDING_MPS)
    if standing.size == 0 or trace.time_s[first] - trace.time_s[standing[-1]] > _LONGEST_LAUNCH_S:
        return None
    begin = int(standing[-1])
    time, speed = trace.time_s[begin + 1 : first + 1], trace.speed_mps[begin + 1 : first + 1]
    if np.any(np.diff(trace.time_s[begin : first + 1]) > 2.5 * trace.step_s):
        return None
    pull = np.nan
    reached = float(trace.speed_mps[first])
    if time.size >= _LEAST_LAUNCH:
        pull = float(np.polynomial.polynomial.polyfit(time - time[0], speed, 1)[1])
        reached -= 0.5 * pull * trace.step_s
    return SeenLaunch(reached / speed_per_rpm, pull, float(trace.time_s[begin]), trace.file)


def seen_shifts(stretches: list[Open], machine: Machine) -> list[SeenShift]:
    """Return the shifts between stretches that follow each other, of runs from first gear up where there are any.

    Parameters
    ----------
    stretches : list of Open
        Throttle open; first gear too where it is held back by grip.
    machine : Machine
        One curve: what the fit found.
    """
    found, from_rest = [], set()
    ordered = sorted(stretches, key=lambda s: (s.trace.file, s.place.start))
    run = 0
    for one, two in pairwise(ordered):
        run += one.trace is not two.trace or two.gear <= one.gear
        apart = two.trace.time_s[two.place.start] - one.trace.time_s[one.place.stop - 1]
        known = two.gear <= len(machine.speed_per_rpm_mps)
        if known and one.trace is two.trace and two.gear == one.gear + 1 and apart < _LONGEST_SHIFT_S:
            shift = _shift(one, two, machine, run)
            if shift is not None:
                found.append(shift)
            if one.gear == 1:
                from_rest.add(run)
    # Who changes up early and opens the throttle only then is not starting: that shift speed is another habit.
    return [shift for shift in found if shift.run in from_rest] or found


def _shift(one: Open, two: Open, machine: Machine, run: int) -> SeenShift | None:
    """Fit rise, coasting and rise to the speeds around a shift, for the moment it began, its length and its speed.

    The slopes are those of the fitted machine, so three numbers are free: least squares over a grid of moments and
    lengths, the speed by its mean.
    """
    trace = one.trace
    left, right = trace.time_s[one.place.stop - 1], trace.time_s[two.place.start]
    near = np.flatnonzero((trace.time_s > left - _AROUND_S) & (trace.time_s < right + _AROUND_S))
    near = near[(trace.gear[near] == one.gear) | (trace.gear[near] == two.gear) | (trace.gear[near] == 0)]
    if near.size < 5:
        return None
    time, speed = trace.time_s[near], trace.speed_mps[near]
    at = float(np.interp((left + right) / 2, time, speed))
    where = np.array([at])
    free = float(1 + machine.wheels[0])
    before, after = (float(machine.acceleration_mps2(g, where)[0, 0]) for g in (one.gear, two.gear))
    if before <= 0:
        before = float(machine.acceleration_mps2(one.gear, 0.97 * where)[0, 0])
    between = -float(machine.resistance_mps2(where)[0, 0]) / free
    step = trace.step_s
    begins = np.arange(left - 1.5 * step, right + 0.5 * step, min(step, 0.1) / 4)
    lengths = np.arange(0.0, right - left + 2.0 * step, 0.02)
    begin, length = (grid.ravel()[:, None] for grid in np.meshgrid(begins, lengths, indexing="ij"))
    passed = time[None, :] - begin
    shape = np.where(
        passed < 0,
        before * passed,
        np.where(passed < length, between * passed, between * length + after * (passed - length)),
    )
    rest = speed[None, :] - shape
    level = rest.mean(axis=1)
    squares = ((rest - level[:, None]) ** 2).sum(axis=1)
    best = int(squares.argmin())
    rpm = float(level[best]) / machine.speed_per_rpm_mps[one.gear - 1]
    return SeenShift(run, one.gear, rpm, float(length[best, 0]))
