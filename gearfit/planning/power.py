"""How likely a test is to show a change: the chance that the 95 % interval of a gear's change leaves out zero.

The report pools the scatter of all gears of a setup: what exceeds the stated errors becomes one extra variance of all
passages (Paule and Mandel), and a small scatter never narrows the interval. So its width is itself a matter of chance.
Here many tests are drawn with a fixed seed, rounding of the display included, and judged by the same rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.planning.noise import Noise

FloatArray = NDArray[np.float64]
Readings = list[list[tuple[float, float]]]

#: Degrees of freedom of stated errors, as the fit has them.
STATED_DOF: Final = 60.0
#: Tests drawn, and their seed.
_DRAWS: Final = 2000
_SEED: Final = 1
_HALVINGS: Final = 22
#: Chance at which a gear counts as told.
TOLD: Final = 0.9


@dataclass(frozen=True)
class GearPower:
    """What one gear can show.

    Attributes
    ----------
    power : float
        Chance that its 95 % interval leaves out no change.
    smallest_percent : float
        Smallest change of either sign that it shows with the chance `TOLD`.
    """

    power: float
    smallest_percent: float


@dataclass(frozen=True, eq=False)
class _Setup:
    """One setup drawn again and again: error of each gear's level, its stated variance, and degrees of freedom."""

    error: FloatArray
    variance: FloatArray
    dof: FloatArray


def gear_powers(noise: Noise, readings: Readings, change: float, relative_sd: float) -> list[GearPower]:
    """Return what each gear can show when both setups are ridden alike.

    Parameters
    ----------
    noise : Noise
        Of one passage.
    readings : list of list of (float, float)
        For each gear the (road speed [m/s], engine speed [rev/min]) of its passages before the change.
    change : float
        Expected change of road speed at the same engine speed, as a fraction.
    relative_sd : float
        How well these road speeds are known beforehand: it decides how rounding falls.
    """
    from scipy.special import stdtrit

    rng = np.random.default_rng(_SEED)
    scale = 1 + relative_sd * rng.standard_normal((_DRAWS, 1))
    before = _setup(noise, readings, scale, rng)
    after = _setup(noise, [[((1 + change) * v, n) for v, n in row] for row in readings], scale, rng)
    quantile = stdtrit(np.minimum(before.dof, after.dof), 0.975)
    half: FloatArray = np.asarray(quantile[:, None] * np.sqrt(before.variance + after.variance), dtype=np.float64)
    log_change = abs(float(np.log1p(change)))
    error = np.copysign(1.0, change) * (before.error - after.error)
    return [_power(error[:, gear], half[:, gear], log_change) for gear in range(len(readings))]


def _power(error: FloatArray, half: FloatArray, log_change: float) -> GearPower:
    def chance(size: float) -> float:
        return float(np.mean(np.abs(size + error) > half))

    smallest = float(np.quantile(half - error, TOLD))
    return GearPower(chance(log_change), 100 * float(np.expm1(smallest)))


def _setup(noise: Noise, readings: Readings, scale: FloatArray, rng: np.random.Generator) -> _Setup:
    member = np.repeat(np.arange(len(readings)), [len(passages) for passages in readings])
    speed, rpm = (np.array(column) for column in zip(*(r for passages in readings for r in passages), strict=True))
    stated = np.array([noise.stated_sd(v, n) for v, n in zip(speed, rpm, strict=True)]) ** 2
    inside = (np.arange(len(readings))[:, None] == member).astype(float)
    dof = member.size - len(readings)
    error = noise.draw(speed * scale, rpm, rng)
    between = _between(error, stated, inside, dof)
    weight = 1 / (stated + between[:, None])
    total = weight @ inside.T
    return _Setup(
        error=(weight * error) @ inside.T / total,
        variance=1 / total,
        dof=np.where(between > 0, float(max(dof, 1)), STATED_DOF),
    )


def _misfit(error: FloatArray, weight: FloatArray, inside: FloatArray) -> FloatArray:
    """Weighted sum of squares about the mean of each gear, for every draw."""
    total = weight @ inside.T
    mean = (weight * error) @ inside.T / total
    squares: FloatArray = np.sum(weight * (error - mean @ inside) ** 2, axis=1)
    return squares


def _between(error: FloatArray, stated: FloatArray, inside: FloatArray, dof: int) -> FloatArray:
    """Extra variance that makes the weighted sum of squares equal its degrees of freedom, at least 0."""
    found = np.zeros(len(error))
    if dof == 0:
        return found
    scattered = np.flatnonzero(_misfit(error, np.broadcast_to(1 / stated, error.shape), inside) > dof)
    low, high = np.zeros(scattered.size), np.full(scattered.size, 10 * float(np.max(error**2)) + 1e-12)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        above = _misfit(error[scattered], 1 / (stated + middle[:, None]), inside) > dof
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    found[scattered] = (low + high) / 2
    return found
