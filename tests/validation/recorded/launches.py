"""Times on the level without wind, as the rider of a pair would have ridden them, the throttle as far open as ever."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from tests.validation.recorded.pairs import Band, Truth
from tests.validation.recorded.ride import Ridden, ride
from tests.validation.recorded.riders import Act
from tests.validation.recorded.roads import level

#: Below this nobody sees whether a machine that stood moves, m/s: a start may be said to begin anywhere up to it.
MOVES_MPS: Final = 0.1


def true_time_s(truth: Truth, setup: str, from_mps: float, to_mps: float, gear: int | None = None) -> Band | None:
    """Time from one speed to another, s: from rest through the gears, or in one `gear`; None where not reached."""
    machine = truth.machines[setup]
    rng = np.random.default_rng(0)
    if gear is None:
        acts = [Act("stand", 3.0), Act("pull", 60.0, 1, to_mps * 1.02, truth.habits.throttle)]
        return _between(ride(machine, truth.habits, acts, level(), rng, scatter=0.0), from_mps, to_mps)
    # With one gear alone, a start ends in it.
    alone = replace(machine, gears=(machine.gears[gear - 1],))
    acts = [Act("stand", 1.0), Act("pull", 90.0, 1, to_mps * 1.02, truth.habits.throttle)]
    ridden = ride(alone, truth.habits, acts, level(), rng, scatter=0.0)
    locked = ridden.gear > 0
    below = ridden.speed_mps < from_mps
    if not (locked & below).any():
        return None
    return _between(ridden, from_mps, to_mps)


def _between(ridden: Ridden, from_mps: float, to_mps: float) -> Band | None:
    if ridden.speed_mps.max() < to_mps:
        return None
    end = int(np.argmax(ridden.speed_mps >= to_mps))
    first = int(np.argmax(ridden.speed_mps > from_mps))
    last = int(np.argmax(ridden.speed_mps > max(from_mps, MOVES_MPS)))
    return float(ridden.time_s[end] - ridden.time_s[last]), float(ridden.time_s[end] - ridden.time_s[first])
