"""What bounds the acceleration beside the engine: front wheel and grip of the driven tyre, where they are stated.

Level road, everything per mass: a acceleration, d air resistance (taken to act at the height of the mass), x the
driving force at the rear contact, w both wheels' turning mass, half of it in front; b the level distance from the
centre of gravity to the rear axle, h its height, L the wheelbase, mu the grip (highest x over load of the rear tyre).

Moments about the rear contact give the load n of the front wheel. The engine's thrust is not in it: what turns engine
and wheels never reaches the road.

    n L = g b - (a + d) h          the front wheel carries nothing at  a + d = g b / h                    (T4)

The contact moves the machine against the air and turns the front wheel; rear wheel and engine are turned before it, and
the rear tyre's rolling resistance is taken off before it as well:

    x = a + d + a w / 2            and the rear tyre carries  g (L - b) / L + x h / L  (textbook mechanics),
                                   so it lets go at  x = mu g (L - b) / (L - mu h)                        (T5)

In the load of (T5) x stands for a + d: the wheels' own spin, a moment of a w times their radius, makes up for the
difference but for some 0.2 % of a (it is left out in (T4), which it would lower by 2 %). Without the place of the
centre of gravity the rear tyre carries the whole weight at most, so it lets go at x = mu g at the latest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from gearfit.machine.bike import Bike
from gearfit.prediction.lift import grip_limit_mps2, lift_limit_mps2
from gearfit.thrust.machine import Machine
from gearfit.thrust.run import Launch, launch_mps2

#: A bound that lies where the ride was does not count, m/s^2.
_TOLERANCE_MPS2: Final = 1e-6
_POINTS: Final = 60


def bounded(machine: Machine, bike: Bike, launch: Launch | None) -> Machine:
    """Bound the machine as ridden by front wheel and grip as stated, but never below what was ridden."""
    lift, grip = lift_limit_mps2(bike), grip_limit_mps2(bike)
    if not np.isfinite(min(lift, grip)):
        return machine
    force, contact = _highest(machine, launch, 1.0)
    return replace(machine, lift_mps2=max(lift, force), grip_mps2=max(grip, contact))


def bounds_that_count(sides: Sequence[tuple[Machine, float]], launch: Launch | None) -> tuple[bool, bool]:
    """Whether the front wheel, or else the grip, keeps any machine from what it could do in first gear.

    Parameters
    ----------
    sides : sequence of (Machine, float)
        Bounded machines, each with its thrust at the same torque against that of the ride.
    launch : Launch or None
        As seen with the gearing of the ride.
    """
    lift, grip = sides[0][0].lift_mps2, sides[0][0].grip_mps2
    free = [_highest(replace(machine, lift_mps2=np.inf, grip_mps2=np.inf), launch, gain) for machine, gain in sides]
    lifts = max(force for force, _ in free) > lift + _TOLERANCE_MPS2
    slips = max(contact for _, contact in free) > grip + _TOLERANCE_MPS2
    return lifts and (lift <= grip or not slips), slips and not (lifts and lift <= grip)


def _highest(machine: Machine, launch: Launch | None, gain: float) -> tuple[float, float]:
    """Highest a + d (T4) and highest force at the contact (T5) in launch and first gear; best row, per mass."""
    best, per_rpm = machine.best(), machine.speed_per_rpm_mps[0]
    speeds = np.linspace(best.curve.low_rpm, min(best.curve.high_rpm, best.limit_rpm), _POINTS) * per_rpm * (1 - 1e-12)
    pull, air = best.acceleration_mps2(1, speeds)[0], best.air_per_m[0] * speeds**2
    if launch is not None:
        started, held = launch_mps2(machine, launch, gain)
        pull, air = np.r_[pull, started[0]], np.r_[air, held[0]]
    return float(np.max(pull + air)), float(np.max(pull * (1 + best.wheels[0] / 2) + air))
