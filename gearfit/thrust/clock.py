"""Time against speed in each gear, from the acceleration as a function of speed.

On the level with the throttle open the acceleration a_g(v) in a gear depends on the speed alone, so the equation of
motion dv/dt = a_g(v) separates and its solution is an integral:

    t(v) = integral of dv / a_g(v)                                                                    (T1)

It is tabulated by Simpson's rule on an even grid of speeds and read between the points by cubic Hermite interpolation,
whose slopes 1/a are known exactly; both have errors of the fourth order in the step. Many curves are done at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
#: Acceleration as a function of speeds (m,): shape (n, m) for n curves.
Acceleration = Callable[[FloatArray], FloatArray]

#: Step of the grid of speeds, m/s.
STEP_MPS: Final = 0.125
#: Below this acceleration the machine is taken to have reached the highest speed of the gear, m/s^2.
LEAST_MPS2: Final = 1e-3


@dataclass(frozen=True, eq=False)
class Clock:
    """Time that a gear takes from speed to speed, for n curves at once.

    Attributes
    ----------
    speed_mps : (m,) float
        Even grid from 0.
    time_s : (n, m) float
        Time from standstill; infinite at speeds that are not reached.
    slope : (n, m) float
        1 / acceleration, s/(m/s).
    """

    speed_mps: FloatArray
    time_s: FloatArray
    slope: FloatArray

    def at(self, speed_mps: FloatArray) -> FloatArray:
        """Return the time of each curve at its own speed, shape (n,); infinite beyond what it reaches."""
        step = self.speed_mps[1]
        last = self.speed_mps.size - 2
        # A point of the grid belongs to the cell below it: the one above may lie beyond what is reached.
        place = np.clip(np.ceil(speed_mps / step).astype(np.int64) - 1, 0, last)
        share = speed_mps / step - place
        row = np.arange(self.time_s.shape[0])
        t0, t1 = self.time_s[row, place], self.time_s[row, place + 1]
        d0, d1 = self.slope[row, place], self.slope[row, place + 1]
        with np.errstate(invalid="ignore"):
            jump, u = t1 - t0, share
            value = t0 + u * u * (3 - 2 * u) * jump + step * u * (1 - u) * ((1 - u) * d0 - u * d1)
        return np.where(np.isfinite(value) & (speed_mps <= self.speed_mps[-1]), value, np.inf)


def clock(acceleration: Acceleration, top_mps: float) -> Clock:
    """Tabulate the time against speed up to `top_mps`.

    Parameters
    ----------
    acceleration : callable
        Speeds (m,) to accelerations (n, m), m/s^2.
    top_mps : float
        Highest speed of the table.
    """
    cells = int(np.ceil(top_mps / STEP_MPS)) + 1
    both: FloatArray = np.arange(2 * cells + 1, dtype=np.float64) * (STEP_MPS / 2)
    found = acceleration(both)
    slow = np.maximum.accumulate(found < LEAST_MPS2, axis=1)
    inverse: FloatArray = np.where(slow, np.inf, 1 / np.where(slow, 1.0, found))
    each = (inverse[:, :-2:2] + 4 * inverse[:, 1:-1:2] + inverse[:, 2::2]) * (STEP_MPS / 6)
    time: FloatArray = np.concatenate([np.zeros((found.shape[0], 1)), np.cumsum(each, axis=1)], axis=1)
    return Clock(both[::2], time, inverse[:, ::2])
