"""How likely a test is to show a change: the chance that the 95 % interval of a gear's change leaves out zero.

Many tests are drawn with a fixed seed, rounding of the display included, and each is judged by the rules of the report:
the scatter of hand-written readings is that of both setups together, what riders usually hold counted in; that of logs
each setup's own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.prediction.planning.noise import HELD_SHARE, HELD_SPREAD, Noise

FloatArray = NDArray[np.float64]
Readings = list[list[tuple[float, float]]]

#: Tests drawn, and their seed.
_DRAWS: Final = 2000
_SEED: Final = 1
#: Chance at which a gear counts as told.
TOLD: Final = 0.9
#: Fewest degrees of freedom that the report tells an interval with.
_LEAST_DOF: Final = 3
#: Values of the scatter that are weighed.
_GRID: Final = np.geomspace(0.0004, 0.12, 33)


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
    rng = np.random.default_rng(_SEED)
    passages = [passage for rows in readings for passage in rows]
    speed, rpm = np.tile(np.array(passages).T, 2)
    speed[len(passages) :] *= 1 + change
    read2 = np.array([noise.reading_sd(*passage) ** 2 for passage in zip(speed, rpm, strict=True)])
    error = noise.draw(speed * (1 + relative_sd * rng.standard_normal((_DRAWS, 1))), rpm, rng)
    gear = np.repeat(np.arange(len(readings)), [len(rows) for rows in readings])
    levels = np.kron(np.eye(2), np.eye(len(readings))[gear]).astype(np.float64)
    scatter2, quantile = _scatter(noise, error, read2, levels)
    weight = 1 / (read2 + scatter2[:, None])
    total = weight @ levels
    before, after = np.split((weight * error) @ levels / total, 2, axis=1)
    half = quantile * np.sqrt(sum(np.split(1 / total, 2, axis=1)))
    wrong = np.copysign(1.0, change) * (before - after)
    return [_power(wrong[:, gear], half[:, gear], abs(math.log1p(change))) for gear in range(len(readings))]


def _power(error: FloatArray, half: FloatArray, log_change: float) -> GearPower:
    chance = float(np.mean(np.abs(log_change + error) > half))
    return GearPower(chance, 100 * math.expm1(float(np.quantile(half - error, TOLD))))


def _scatter(noise: Noise, error: FloatArray, read2: FloatArray, levels: FloatArray) -> tuple[FloatArray, float]:
    """Variance beyond reading that each draw is taken to have, and the quantile of Student's t that goes with it."""
    from scipy.special import stdtrit

    gears = levels.shape[1] // 2
    if noise.kind == "display":
        moved = np.column_stack([levels[:, :gears] + levels[:, gears:], levels[:, gears:].sum(axis=1)])
        scatter2, dof = _of_readings(error, read2, moved), read2.size - gears - 1
    else:
        basis = levels / np.sqrt(levels.sum(axis=0))
        dof = read2.size // 2 - gears
        apart = np.sum(error**2, axis=1) - np.sum((error @ basis) ** 2, axis=1)
        scatter2 = apart / (2 * dof) if dof else np.full(len(error), noise.scatter**2)
    return scatter2, float(stdtrit(max(dof, _LEAST_DOF), 0.975))


def _of_readings(error: FloatArray, read2: FloatArray, design: FloatArray) -> FloatArray:
    """Scatter of readings, as the fit has it: restricted likelihood of some values times what is known of riders."""
    log_weight = np.empty((len(error), _GRID.size))
    for i, scatter in enumerate(_GRID):
        sd = np.sqrt(read2 + scatter**2)
        basis, triangle = np.linalg.qr(design / sd[:, None])
        apart = error**2 @ sd**-2 - np.sum((error @ (basis / sd[:, None])) ** 2, axis=1)
        size = np.sum(np.log(sd)) + np.sum(np.log(np.abs(np.diag(triangle))))
        log_weight[:, i] = -0.5 * apart - size - 0.5 * (np.log(scatter / HELD_SHARE) / HELD_SPREAD) ** 2
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    mean: FloatArray = weight @ np.log(_GRID) / weight.sum(axis=1)
    return np.exp(2 * mean)
