"""Which tooth pairs could give the change that was measured.

Every plausible pair starts with a weight for how likely a workshop is to fit it; the measured change, with its
uncertainty, does the rest (Bayes' rule with Student's t as likelihood). Pairs that the measurement cannot tell apart
keep comparable probabilities and so are listed together.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.special import gammaln

from gearfit.bike import FinalDrive
from gearfit.comparison.shift import RIDE_TO_RIDE_SD, Shift
from gearfit.results import SprocketPair

#: How far from the reference pair other pairs are looked for, teeth.
_FRONT_REACH: Final = 3
_REAR_REACH: Final = 6
_LEAST_TEETH: Final = 8
#: Weight of a pair before the measurement: falls by this factor a tooth, front and rear, and for changing both.
_FRONT_FACTOR: Final = 0.5
_REAR_FACTOR: Final = 0.7
_BOTH_FACTOR: Final = 0.2
#: ... and rises by this factor for the pair that the rider states (he may have miscounted).
_STATED_FACTOR: Final = 10.0
#: Front sprockets of road motorcycles, teeth (common practice, no source).
_USUAL_FRONTS: Final = range(11, 20)
#: Pairs are listed until together they hold this probability, at most so many.
_HELD: Final = 0.99
_MOST: Final = 6


def candidates(
    reference: FinalDrive, stated: FinalDrive, shift: Shift, tyre_factor: float = 1.0
) -> tuple[SprocketPair, ...]:
    """List the likely tooth pairs of the other setup, most likely first; empty where nothing can be said.

    Parameters
    ----------
    reference, stated : FinalDrive
        Final drive of the reference setup, and of the other setup as the rider states it.
    shift : Shift
        The measured change.
    tyre_factor : float
        What another stated tyre does to the speed, beside the teeth.
    """
    front, rear = reference.front, reference.rear
    if front is None or rear is None or shift.all_gears_percent is None:
        return ()
    pairs: list[tuple[int, int, float]] = []
    log_weights: list[float] = []
    scale = float(np.hypot(shift.log_se, RIDE_TO_RIDE_SD))
    for f in range(max(_LEAST_TEETH, front - _FRONT_REACH), front + _FRONT_REACH + 1):
        for r in range(max(_LEAST_TEETH, rear - _REAR_REACH), rear + _REAR_REACH + 1):
            predicted = float(np.log(tyre_factor * f * rear / (r * front)))
            z = (shift.log_change - predicted) / scale
            log_prior = abs(f - front) * np.log(_FRONT_FACTOR) + abs(r - rear) * np.log(_REAR_FACTOR)
            log_prior += np.log(_BOTH_FACTOR) if f != front and r != rear else 0.0
            log_prior += np.log(_STATED_FACTOR) if (f, r) == (stated.front, stated.rear) else 0.0
            pairs.append((f, r, 100 * float(np.expm1(predicted))))
            log_weights.append(log_prior + _log_t(z, shift.dof))
    weights = np.exp(np.array(log_weights) - max(log_weights))
    weights /= weights.sum()
    listed: list[SprocketPair] = []
    held = 0.0
    for i in np.argsort(-weights, kind="stable")[:_MOST]:
        pair_front, pair_rear, predicted_percent = pairs[i]
        listed.append(SprocketPair(pair_front, pair_rear, predicted_percent, float(weights[i])))
        held += float(weights[i])
        if held >= _HELD:
            break
    return tuple(listed)


def front_steps(shift: Shift) -> tuple[tuple[int, int], ...]:
    """List front sprockets (from, to) of usual sizes that would explain the change where no teeth are stated."""
    if shift.all_gears_percent is None:
        return ()
    reach = 2 * float(np.hypot(shift.log_se, RIDE_TO_RIDE_SD))
    return tuple(
        (old, old + step)
        for old in _USUAL_FRONTS
        for step in (-2, -1, 1, 2)
        if abs(shift.log_change - np.log((old + step) / old)) <= reach
    )


def _log_t(z: float, dof: float) -> float:
    """Log density of Student's t."""
    return float(
        gammaln((dof + 1) / 2) - gammaln(dof / 2) - 0.5 * np.log(dof * np.pi) - (dof + 1) / 2 * np.log1p(z**2 / dof)
    )
