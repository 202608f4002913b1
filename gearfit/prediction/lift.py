"""Climb and lift: what thrust and the place of the mass allow, on paper.

- Thrust at the wheel: torque x engine angle per road distance, F = 2 pi T n / (60 v), with n/v of the gear. Losses
  left out, so it is an upper bound.
- Grade that the thrust can hold at a steady speed, without drag: sin(grade angle) = F / (m g).
- The front wheel carries nothing when m a h = m g b on the level, a = g b / h, and on a steady climb when
  tan(grade angle) = b / h (moments about the rear contact; b is the level distance from the centre of gravity to the
  rear axle, h its height).
- The driven tyre lets go on a steady climb at tan(grade angle) = mu (L - b) / (L - mu h), mu its grip and L the
  wheelbase: on the slope it carries m g (cos (L - b) + sin h) / L, and m g sin is what it has to give (moments about
  the front contact). Without the place of the mass it carries the whole weight at most: tan(grade angle) = mu.

On the level both read alike with a / g, a the force at the contact per mass, in place of the tangent.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

from gearfit.machine.bike import Bike
from gearfit.prediction.basis import Gearing
from gearfit.units import SECONDS_PER_MINUTE

#: Standard acceleration of free fall (3rd General Conference on Weights and Measures, 1901), m/s^2.
GRAVITY_MPS2: Final = 9.80665
#: Grip of a road tyre on dry asphalt where bike.toml states none, thrust over load (common practice, no source).
USUAL_GRIP: Final = 1.0

#: What ends a climb.
Limit = Literal["thrust", "front wheel", "grip"]


@dataclass(frozen=True)
class GearClimb:
    """One gear; None where torque, mass or balance is not stated.

    Attributes
    ----------
    gear : int
        1 = first.
    thrust_n : float or None
        At the highest torque.
    acceleration_mps2 : float or None
        Of that thrust alone, on the level.
    grade_percent : float or None
        Rise over level distance that the thrust alone holds; None as well where it would hold any.
    climb_percent : float or None
        The same, but no steeper than front wheel and grip allow.
    climb_limit : {"thrust", "front wheel", "grip"} or None
        What ends it.
    lifts : bool or None
        Whether that thrust lifts the front wheel on the level.
    lift_torque_nm : float or None
        Torque at the crankshaft at which the front wheel lifts.
    """

    gear: int
    thrust_n: float | None
    acceleration_mps2: float | None
    grade_percent: float | None
    climb_percent: float | None
    climb_limit: Limit | None
    lifts: bool | None
    lift_torque_nm: float | None


@dataclass(frozen=True)
class Climb:
    """All gears of one gearing, and the limits that no gear changes.

    Attributes
    ----------
    lift_acceleration_mps2, lift_grade_percent : float or None
        Where the front wheel carries nothing; None without the centre of gravity.
    grip, grip_grade_percent : float
        Grip of the driven tyre, `USUAL_GRIP` where none is stated, and the steady climb on which it lets go.
    gears : tuple of GearClimb
        First gear first.
    """

    lift_acceleration_mps2: float | None
    lift_grade_percent: float | None
    grip: float
    grip_grade_percent: float
    gears: tuple[GearClimb, ...]


def lift_acceleration_mps2(cg_to_rear_m: float, cg_height_m: float) -> float:
    """Return the acceleration on the level at which the front wheel carries nothing, g b / h."""
    return GRAVITY_MPS2 * cg_to_rear_m / cg_height_m


def thrust_n(torque_nm: float, speed_per_1000rpm_mps: float) -> float:
    """Return the thrust at the driven wheel [N] of a torque at the crankshaft, losses left out."""
    return torque_nm * 2 * math.pi * 1000 / (SECONDS_PER_MINUTE * speed_per_1000rpm_mps)


def grade_percent(thrust: float, mass_kg: float) -> float | None:
    """Return the grade [%, rise over level distance] that a thrust [N] holds; None where it exceeds the weight."""
    sine = thrust / (mass_kg * GRAVITY_MPS2)
    return 100 * sine / math.sqrt(1 - sine**2) if sine < 1 else None


def lift_limit_mps2(bike: Bike) -> float:
    """Acceleration plus air resistance per mass at which the front wheel lifts; infinite where not stated."""
    balance = bike.balance
    if balance.cg_height_mm is None or balance.cg_to_rear_mm is None:
        return math.inf
    return lift_acceleration_mps2(balance.cg_to_rear_mm / 1000, balance.cg_height_mm / 1000)


def grip_limit_mps2(bike: Bike) -> float:
    """Force at the contact per mass at which the driven tyre lets go; infinite where its grip is not stated."""
    grip, balance = bike.motion.tyre_grip, bike.balance
    if grip is None:
        return math.inf
    most = grip * GRAVITY_MPS2
    if balance.cg_height_mm is None or balance.cg_to_rear_mm is None or balance.wheelbase_mm is None:
        return most
    free_mm = balance.wheelbase_mm - grip * balance.cg_height_mm
    if free_mm <= 0:
        return most
    return min(most, grip_force_mps2(grip, balance.wheelbase_mm, balance.cg_to_rear_mm, balance.cg_height_mm))


def grip_force_mps2(grip: float, wheelbase_mm: float, cg_to_rear_mm: float, cg_height_mm: float) -> float:
    """Return mu g (L - b) / (L - mu h), any unit of length; L must exceed mu h."""
    return grip * GRAVITY_MPS2 * (wheelbase_mm - cg_to_rear_mm) / (wheelbase_mm - grip * cg_height_mm)


def climb(bike: Bike, gearing: Gearing) -> Climb | None:
    """Return what can be said; None without gears, mass, and torque or centre of gravity."""
    mass_kg, balance, torque_nm = bike.total_kg, bike.balance, bike.engine.torque_nm
    placed = balance.cg_height_mm is not None and balance.cg_to_rear_mm is not None
    if mass_kg is None or not gearing.gears or not (placed or torque_nm is not None):
        return None
    lift_mps2 = lift_limit_mps2(bike) if placed else None
    grip = bike.motion.tyre_grip or USUAL_GRIP
    gripping = replace(bike, motion=replace(bike.motion, tyre_grip=grip))
    steepest: dict[Limit, float] = {
        "front wheel": 100 * lift_limit_mps2(bike) / GRAVITY_MPS2,
        "grip": 100 * grip_limit_mps2(gripping) / GRAVITY_MPS2,
    }
    pairs = zip(gearing.gears, gearing.speed_per_1000rpm_mps, strict=True)
    return Climb(
        lift_acceleration_mps2=lift_mps2,
        lift_grade_percent=None if lift_mps2 is None else 100 * lift_mps2 / GRAVITY_MPS2,
        grip=grip,
        grip_grade_percent=steepest["grip"],
        gears=tuple(_gear(gear, speed_mps, mass_kg, torque_nm, lift_mps2, steepest) for gear, speed_mps in pairs),
    )


def _gear(
    gear: int,
    speed_per_1000rpm_mps: float,
    mass_kg: float,
    torque_nm: float | None,
    lift_mps2: float | None,
    steepest: Mapping[Limit, float],
) -> GearClimb:
    lift_nm = None if lift_mps2 is None else mass_kg * lift_mps2 / thrust_n(1.0, speed_per_1000rpm_mps)
    if torque_nm is None:
        return GearClimb(gear, None, None, None, None, None, None, lift_nm)
    thrust = thrust_n(torque_nm, speed_per_1000rpm_mps)
    acceleration = thrust / mass_kg
    lifts = None if lift_mps2 is None else acceleration > lift_mps2
    alone = grade_percent(thrust, mass_kg)
    ends: dict[Limit, float] = {"thrust": math.inf if alone is None else alone, **steepest}
    limit = min(ends, key=ends.__getitem__)
    return GearClimb(gear, thrust, acceleration, alone, ends[limit], limit, lifts, lift_nm)
