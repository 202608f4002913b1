"""One stretch as the fit of (T3) sees it: what is integrated over time, and the run that it belongs to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.thrust.curve import RpmCurve
from gearfit.thrust.envelope import Open
from gearfit.thrust.machine import lever_per_m

FloatArray = NDArray[np.float64]

#: Stretches that begin within this time belong to one run and share its grade, s.
_ONE_RUN_S: Final = 6.0


@dataclass(frozen=True, eq=False)
class Piece:
    """One stretch: rates of gain before the division by the inertia; `share` says which share of thrust is its own."""

    time: FloatArray
    speed: FloatArray
    lever: float
    drive: FloatArray
    gear: int
    hill: FloatArray
    passed: FloatArray
    run: int
    share: int

    def columns(self, torque: FloatArray, cap: float) -> FloatArray:
        """Return the integrals (n, k + 3) of torque, a0, b and cap, where first gear gives no more than that."""
        drive, held = self.drive, np.zeros(self.time.size)
        if self.gear == 1 and np.isfinite(cap):
            over = drive @ torque > cap
            drive, held = np.where(over[:, None], 0.0, drive), over.astype(np.float64)
        return integral(self.time, np.column_stack([drive, -np.ones(self.time.size), -(self.speed**2), held]))


def runs_of(stretches: list[Open]) -> list[int]:
    """Return the run of each stretch, counted from 0."""
    found: list[int] = []
    last: dict[str, tuple[float, int]] = {}
    count = 0
    for index in sorted(range(len(stretches)), key=lambda i: (stretches[i].trace.file, stretches[i].place.start)):
        stretch = stretches[index]
        begin, end = stretch.trace.time_s[stretch.place.start], stretch.trace.time_s[stretch.place.stop - 1]
        before = last.get(stretch.trace.file)
        if before is None or begin - before[0] > _ONE_RUN_S:
            run, count = count, count + 1
        else:
            run = before[1]
        last[stretch.trace.file] = (end, run)
        found.append(run)
    order = sorted(range(len(stretches)), key=lambda i: (stretches[i].trace.file, stretches[i].place.start))
    placed = [0] * len(stretches)
    for position, index in enumerate(order):
        placed[index] = found[position]
    return placed


def piece_of(stretch: Open, curve: RpmCurve, speed_per_rpm: dict[int, float], run: int, share: int) -> Piece:
    """Prepare a stretch for the fit."""
    trace, place = stretch.trace, stretch.place
    time, speed = trace.time_s[place], trace.speed_mps[place]
    lever, drive = 0.0, np.zeros((time.size, curve.size))
    if stretch.gear:
        per_rpm = speed_per_rpm[stretch.gear]
        lever = lever_per_m(per_rpm)
        drive = lever * curve.basis(speed / per_rpm)
    hill = integral(time, trace.hill_mps2[place][:, None])[:, 0]
    return Piece(time, speed, lever, drive, stretch.gear, hill, time - time[0], run, share)


def integral(time: FloatArray, rates: FloatArray) -> FloatArray:
    """Integrate rates (n, m) over time from its beginning, by the trapezoidal rule."""
    steps = np.diff(time)[:, None] * (rates[1:] + rates[:-1]) / 2
    return np.concatenate([np.zeros((1, rates.shape[1])), np.cumsum(steps, axis=0)])
