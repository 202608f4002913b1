"""What holds a machine back on the level, F = m (a0 + b v^2), and what is assumed where nothing is known.

Air: the coast-down figures of 40 CFR 86.529-98 (Figure F98-9) give F = A + C V^2 by mass; C there grows evenly from
0.0224 N/(km/h)^2 at 100 kg to 0.0290 at 340 kg, a drag area of 0.49 to 0.63 m^2. Rolling: A of that table is a constant
of a fit, not a tyre's, so the share of the weight is common practice without a source. Both with their spread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.machine.atmosphere import air_kgm3
from gearfit.machine.bike import Conditions, Motion
from gearfit.prediction.lift import GRAVITY_MPS2

FloatArray = NDArray[np.float64]

#: Table of 40 CFR 86.529-98: C at the lightest and at the heaviest class, N/(km/h)^2.
_MASS_KG: Final = (100.0, 340.0)
_AIR_N_PER_KMH2: Final = (0.0224, 0.0290)
#: Relative spread of the drag of machines and riders of one mass (our assumption: 0.18 to 0.70 m^2 occur).
AIR_RELATIVE_SD: Final = 0.18
#: Rolling resistance as a share of the weight, with its spread (common practice, no source).
ROLLING: Final = 0.016
ROLLING_SD: Final = 0.005
#: Relative spread of what is stated (our assumption).
_STATED_AIR_SD: Final = 0.05
_STATED_ROLLING_SD: Final = 0.15


@dataclass(frozen=True)
class Resistance:
    """Rolling part [m/s^2] and air part [1/m] per mass, with standard deviations."""

    rolling_mps2: float
    rolling_sd_mps2: float
    air_per_m: float
    air_sd_per_m: float


def resistance_of(motion: Motion, conditions: Conditions, mass_kg: float) -> Resistance:
    """Return what is stated of a machine's resistance, and of the rest what is assumed.

    Parameters
    ----------
    motion : Motion
        Drag area and rolling coefficient count.
    conditions : Conditions
        Of the ride: air of the density that they state.
    mass_kg : float
        Machine with rider.
    """
    found = usual(mass_kg)
    if motion.drag_area_m2 is not None:
        air = 0.5 * air_kgm3(conditions) * motion.drag_area_m2 / mass_kg
        found = replace(found, air_per_m=air, air_sd_per_m=_STATED_AIR_SD * air)
    if motion.rolling_coefficient is not None:
        rolling = motion.rolling_coefficient * GRAVITY_MPS2
        found = replace(found, rolling_mps2=rolling, rolling_sd_mps2=_STATED_ROLLING_SD * rolling)
    return found


def usual(mass_kg: float) -> Resistance:
    """Return what is assumed for a machine with rider of `mass_kg`."""
    air = float(np.interp(mass_kg, _MASS_KG, _AIR_N_PER_KMH2)) * 3.6**2 / mass_kg
    return Resistance(ROLLING * GRAVITY_MPS2, ROLLING_SD * GRAVITY_MPS2, air, AIR_RELATIVE_SD * air)


def coasting_time_s(from_mps: float, to_mps: float, rolling_mps2: float, air_per_m: float) -> float:
    """Time to slow down without drive, the integral of dv / (a0 + b v^2).

    Raises
    ------
    ValueError
        Nothing slows the machine down, or `to_mps` is not below `from_mps`.
    """
    if rolling_mps2 < 0 or air_per_m < 0 or rolling_mps2 + air_per_m == 0 or not 0 <= to_mps < from_mps:
        raise ValueError("coasting needs a resistance and a speed to slow down to")
    if rolling_mps2 == 0:
        return (1 / to_mps - 1 / from_mps) / air_per_m if to_mps > 0 else math.inf
    if air_per_m == 0:
        return (from_mps - to_mps) / rolling_mps2
    root = math.sqrt(air_per_m / rolling_mps2)
    return (math.atan(from_mps * root) - math.atan(to_mps * root)) / math.sqrt(rolling_mps2 * air_per_m)


def after_coasting_mps(
    speed_mps: FloatArray, rolling_mps2: FloatArray, air_per_m: FloatArray, time_s: FloatArray
) -> FloatArray:
    """Speed after a short time without drive: one step of the classical Runge-Kutta rule, error of the fifth order."""

    def rate(v: FloatArray) -> FloatArray:
        return -(rolling_mps2 + air_per_m * v * v)

    first = rate(speed_mps)
    second = rate(speed_mps + first * time_s / 2)
    third = rate(speed_mps + second * time_s / 2)
    fourth = rate(speed_mps + third * time_s)
    slowed: FloatArray = speed_mps + (first + 2 * second + 2 * third + fourth) * time_s / 6
    return np.maximum(slowed, 0.0)
