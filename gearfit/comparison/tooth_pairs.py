"""Which tooth pairs could give the change that was measured.

Every plausible pair starts with a weight for how likely a workshop is to fit it; the measured change, with its
uncertainty, does the rest (Bayes' rule with Student's t as likelihood). Pairs that the measurement cannot tell apart
keep comparable probabilities and so are listed together.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.special import gammaln

from gearfit.comparison.shift import Shift
from gearfit.results import SprocketPair

#: How far from the reference pair other pairs are looked for, teeth.
_FRONT_REACH: Final = 3
_REAR_REACH: Final = 6
_LEAST_TEETH: Final = 8
#: Weight of a pair before the measurement: falls by this factor a tooth, front and rear, and for changing both.
_FRONT_FACTOR: Final = 0.5
_REAR_FACTOR: Final = 0.7
_BOTH_FACTOR: Final = 0.2
#: Relative error that repeats cannot reduce (tyre temperature and pressure between two rides).
_RIDE_TO_RIDE_SD: Final = 0.0015
#: Pairs are listed until together they hold this probability, at most so many.
_HELD: Final = 0.99
_MOST: Final = 6


def candidates(front: int | None, rear: int | None, shift: Shift) -> tuple[SprocketPair, ...]:
    """List the likely tooth pairs of the other setup, most likely first; empty where nothing can be said.

    Parameters
    ----------
    front, rear : int or None
        Teeth of the reference setup.
    shift : Shift
        The measured change.
    """
    if front is None or rear is None or shift.all_gears_percent is None:
        return ()
    pairs: list[tuple[int, int, float]] = []
    log_weights: list[float] = []
    scale = float(np.hypot(shift.log_se, _RIDE_TO_RIDE_SD))
    for f in range(max(_LEAST_TEETH, front - _FRONT_REACH), front + _FRONT_REACH + 1):
        for r in range(max(_LEAST_TEETH, rear - _REAR_REACH), rear + _REAR_REACH + 1):
            predicted = float(np.log(f * rear / (r * front)))
            z = (shift.log_change - predicted) / scale
            log_prior = abs(f - front) * np.log(_FRONT_FACTOR) + abs(r - rear) * np.log(_REAR_FACTOR)
            log_prior += np.log(_BOTH_FACTOR) if f != front and r != rear else 0.0
            pairs.append((f, r, 100 * float(np.expm1(predicted))))
            log_weights.append(log_prior + _log_t(z, shift.dof))
    weights = np.exp(np.array(log_weights) - max(log_weights))
    weights /= weights.sum()
    listed: list[SprocketPair] = []
    held = 0.0
    for i in np.argsort(-weights, kind="stable")[:_MOST]:
        listed.append(SprocketPair(*pairs[i], probability=float(weights[i])))
        held += float(weights[i])
        if held >= _HELD:
            break
    return tuple(listed)


def _log_t(z: float, dof: float) -> float:
    """Log density of Student's t."""
    return float(
        gammaln((dof + 1) / 2) - gammaln(dof / 2) - 0.5 * np.log(dof * np.pi) - (dof + 1) / 2 * np.log1p(z**2 / dof)
    )
