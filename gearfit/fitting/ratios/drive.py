"""What a fit says of the drive between engine and road for one log: levels, lag and slip, with their joint errors.

Levels, lag and slip come from the same samples, so their errors are tied: a slip taken too large leaves levels that are
too small, and at the thrust of most samples the two cancel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.joint import InGear, Joint, thrust_per_mass

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: A tyre's circumference at 100 km/h beside that at rest: growth and its spread, shares (our assumption).
_GROWTH: Final = 0.001
_GROWTH_SD: Final = 0.001
_GROWTH_MPS: Final = 100 / 3.6


@dataclass(frozen=True, eq=False)
class Drive:
    """The drive as one stream's engine speeds see it.

    Attributes
    ----------
    gear : (G,) int
        Labels, 1 and above, ascending.
    log_ratio : (G,) float
        ln(n/v) without slip.
    slip : float
        1/(m/s^2).
    square_speed : (G,) float
        Mean square of the speeds behind each level, (m/s)^2.
    covariance : (G + 2, G + 2) float
        Of the levels, the lag (s) and the slip.
    """

    gear: IntArray
    log_ratio: FloatArray
    slip: float
    square_speed: FloatArray
    covariance: FloatArray

    def speeds(
        self, engine_rpm: FloatArray, gear: IntArray, acceleration_mps2: FloatArray | float
    ) -> tuple[FloatArray, FloatArray]:
        """Road speeds of engine speeds in gear, and what is wrong with them in common.

        Parameters
        ----------
        engine_rpm, gear : (n,)
            Engine speeds, rev/min, and gears, each one of `self.gear`.
        acceleration_mps2 : (n,) float or float
            Of the machine.

        Returns
        -------
        speed_mps : (n,) float
            v = n exp(-k_g - q u), with the tyre's growth since the speeds behind the level.
        common_mps : (n, G + 3) float
            Columns of errors that go with independent standard normal numbers, the same ones for every call.
        """
        place = np.searchsorted(self.gear, gear)
        speed = engine_rpm * np.exp(-self.log_ratio[place])
        thrust = thrust_per_mass(acceleration_mps2, speed)
        grown = (speed**2 - self.square_speed[place]) / _GROWTH_MPS**2
        speed = speed * np.exp(_GROWTH * grown - self.slip * thrust)
        design = np.zeros((speed.size, self.gear.size + 2))
        design[np.arange(speed.size), place] = 1.0
        design[:, -2] = acceleration_mps2 / speed
        design[:, -1] = thrust
        return speed, speed[:, None] * np.column_stack([design @ self._factor, _GROWTH_SD * grown])

    @cached_property
    def _factor(self) -> FloatArray:
        values, vectors = np.linalg.eigh(self.covariance)
        return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def drives(found: Joint, streams: Sequence[InGear]) -> list[Drive]:
    """Return the drive as each stream of a joint solution sees it."""
    gears, count = found.gear.size, len(streams)
    gear = np.concatenate([s.gear for s in streams])
    place = np.searchsorted(found.gear, gear)
    square = np.bincount(place, np.concatenate([s.speed_mps for s in streams]) ** 2) / np.bincount(place)
    parts = []
    for i in range(count):
        take = [*range(gears), gears + i, gears + 2 * count]
        parts.append(Drive(found.gear + 1, found.level, found.slip, square, found.all_covariance[np.ix_(take, take)]))
    return parts
