"""What bounds the thrust beside the engine: the front wheel and the grip of the driven tyre, where they are stated.

Level road, moments about the contacts; b is the level distance from the centre of gravity to the rear axle, h its
height, L the wheelbase, mu the grip (highest thrust over load of the rear tyre):

    the front wheel carries nothing at      a = g b / h
    the rear tyre carries  m g (L - b) / L + m a h / L,  so it lets go at  a = mu g (L - b) / (L - mu h)

Both from the balance of forces and moments of a rigid machine (textbook mechanics). Without the place of the centre of
gravity the rear tyre carries the whole weight at most, so it lets go at mu g at the latest.
"""

from __future__ import annotations

import numpy as np

from gearfit.bike import Bike
from gearfit.prediction.lift import GRAVITY_MPS2, lift_acceleration_mps2


def lift_thrust_mps2(bike: Bike, rolling_mps2: float) -> float:
    """Thrust per mass at which the front wheel lifts on the level; infinite where the balance is not stated."""
    balance = bike.balance
    if balance.cg_height_mm is None or balance.cg_to_rear_mm is None:
        return np.inf
    return lift_acceleration_mps2(balance.cg_to_rear_mm / 1000, balance.cg_height_mm / 1000) + rolling_mps2


def grip_thrust_mps2(bike: Bike) -> float:
    """Thrust per mass at which the driven tyre lets go on the level; infinite where its grip is not stated."""
    grip, balance = bike.motion.tyre_grip, bike.balance
    if grip is None:
        return np.inf
    most = grip * GRAVITY_MPS2
    if balance.cg_height_mm is None or balance.cg_to_rear_mm is None or balance.wheelbase_mm is None:
        return most
    free_mm = balance.wheelbase_mm - grip * balance.cg_height_mm
    if free_mm <= 0:
        return most
    return min(most, grip_acceleration_mps2(grip, balance.wheelbase_mm, balance.cg_to_rear_mm, balance.cg_height_mm))


def grip_acceleration_mps2(grip: float, wheelbase_mm: float, cg_to_rear_mm: float, cg_height_mm: float) -> float:
    """Return mu g (L - b) / (L - mu h), any unit of length; L must exceed mu h."""
    return grip * GRAVITY_MPS2 * (wheelbase_mm - cg_to_rear_mm) / (wheelbase_mm - grip * cg_height_mm)
