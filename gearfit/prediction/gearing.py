"""Road speed and engine speed from gearing: v = n C / (60 i).

The relation is that of UN GTR 15, Annex 7, paragraph 8 (n/v from transmission ratio, axle ratio and rolling
circumference), and of the French arrêté of 27 March 1979, article 2 (V = 0.06 D n R, with R = 1/i).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from gearfit.machine.bike import Setup, Tyre
from gearfit.units import SECONDS_PER_MINUTE


def speed_mps(engine_rpm: float, circumference_m: float, overall_ratio: float) -> float:
    """Return the road speed [m/s] at an engine speed, v = n C / (60 i).

    Parameters
    ----------
    engine_rpm : float
        Engine speed n [rev/min].
    circumference_m : float
        Rolling circumference C of the driven wheel [m].
    overall_ratio : float
        Engine turns per turn of the driven wheel, i.
    """
    return engine_rpm * speed_per_1000rpm_mps(circumference_m, overall_ratio) / 1000


def engine_rpm(speed_mps: float, circumference_m: float, overall_ratio: float) -> float:
    """Return the engine speed [rev/min] at a road speed [m/s], n = 60 i v / C; the inverse of `speed_mps`."""
    return 1000 * speed_mps / speed_per_1000rpm_mps(circumference_m, overall_ratio)


def speed_per_1000rpm_mps(circumference_m: float, overall_ratio: float) -> float:
    """Return the road speed [m/s] at 1000 rev/min, 1000 C / (60 i)."""
    return 1000 * circumference_m / (SECONDS_PER_MINUTE * overall_ratio)


def step_ratios(overall_ratios: Sequence[float]) -> tuple[float, ...]:
    """Return the steps between gears, i_g / i_(g+1).

    Parameters
    ----------
    overall_ratios : sequence of float
        First gear first.

    Returns
    -------
    tuple of float
        One less than gears; above 1 for a gearbox in order. Final drive and tyre cancel.
    """
    return tuple(lower / higher for lower, higher in pairwise(overall_ratios))


def change_percent(reference: Setup, other: Setup) -> float | None:
    """Predict the change of road speed at the same engine speed, the same in every gear.

    Parameters
    ----------
    reference, other : Setup
        The two setups.

    Returns
    -------
    float or None
        100 ((i_ref / i_other) (C_other / C_ref) - 1), where i is the reduction of the final drive; negative where
        the other setup is geared lower. None where a setup does not state its teeth. The tyres count only where both
        setups state theirs.
    """
    reductions = reference.final_drive.reduction, other.final_drive.reduction
    if reductions[0] is None or reductions[1] is None:
        return None
    return 100 * (reductions[0] / reductions[1] * tyre_factor(reference.tyre, other.tyre) - 1)


def tyre_factor(reference: Tyre, other: Tyre) -> float:
    """Return the ratio of rolling circumferences, other to reference; 1 where they are not both stated.

    Both come from the same kind of statement where there is a choice.
    """
    stated = reference.rolling_circumference_mm, other.rolling_circumference_mm
    if stated[0] is not None and stated[1] is not None:
        return stated[1] / stated[0]
    if reference.size is not None and other.size is not None:
        reference, other = Tyre(size=reference.size), Tyre(size=other.size)
    nominal = reference.nominal_circumference_m, other.nominal_circumference_m
    if nominal[0] is None or nominal[1] is None:
        return 1.0
    return nominal[1] / nominal[0]
