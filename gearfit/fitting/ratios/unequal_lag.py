"""What a lag that is not the same throughout, and what the model leaves out, may do to the levels.

(2) has one lag for a whole log. A receiver or a tachometer that filters lags by more where the acceleration has just
changed, so each gear, ridden with its own kind of acceleration, has a lag of its own; and a delay may drift, so each
passage has. A lag that is x too long in part of the samples raises their ln(n/v) by x d ln v/dt: nothing that more
samples would average out, and most in the lower gears. Tyre growth and slip that is not in proportion bend the ladder
a little, too.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag

from gearfit.fitting.ratios.correlated import Weighting, weighting
from gearfit.fitting.ratios.joint import InGear, Joint, columns, prior
from gearfit.fitting.ratios.state import PRIOR_LAG_SD_S

FloatArray = NDArray[np.float64]

#: By how much the lag differs from gear to gear, standard deviation, s (our assumption: what receivers and tachometers
#: that filter do in simulated rides, where less than this accuses sound gears).
GEAR_LAG_SD_S: Final = 0.015
#: What the model leaves out of each gear, standard deviation, ln ratio (our assumption): a tyre that is 0.2 % larger at
#: 50 m/s than at rest is 0.05 % larger at 28 m/s than at 12 m/s.
LEFT_OUT_SD: Final = 0.0005
#: Bound of one passage's squared departure, in its variance, and rounds until that has settled.
_WILD_Z2: Final = 25.0
_ROUNDS: Final = 5
#: Passages that tell less than this share of what the best one does are left out; with fewer nothing is said (ours).
_LEAST_TOLD: Final = 1e-6
_LEAST_PASSAGES: Final = 6
#: Passages dealt with at once.
_AT_A_TIME: Final = 32


def unequal_lag(
    streams: Sequence[InGear],
    found: Joint,
    lag_now_s: FloatArray,
    lag_prior_sd_s: FloatArray | float,
    offset_prior: Sequence[tuple[float, float]],
) -> FloatArray:
    """Return what is to be added to the covariance of the levels, (G, G).

    Parameters
    ----------
    streams, lag_now_s, lag_prior_sd_s, offset_prior
        What `gearfit.fitting.ratios.joint.solve` was given.
    found : Joint
        Its solution.
    """
    gears, count = found.gear.size, len(streams)
    information = np.diag(prior(gears, lag_now_s, lag_prior_sd_s, offset_prior)[1])
    pulls, departures, gear_of, blocks = [], [], [], []
    for i, s in enumerate(streams):
        place = np.searchsorted(found.gear, s.gear)
        design = columns(s, place, gears)
        weights = weighting(s.time_s, s.speed_mps, s.noise)
        heavy = weights.apply(design)
        own = np.array([*range(gears), gears + i, gears + count + i, len(information) - 1])
        information[np.ix_(own, own)] += design[:, :-1].T @ heavy[:, :-1]
        force = heavy[:, -1] - heavy[:, :-1] @ [*found.level, found.lag_s[i], found.offset_mps[i], found.slip]
        first = np.flatnonzero(np.diff(s.passage, prepend=-1))
        pull = np.zeros((first.size, len(information)))
        pull[:, own] = np.add.reduceat(s.rate[:, None] * heavy[:, :-1], first)
        pulls.append(pull)
        departures.append(np.add.reduceat(s.rate * force, first))
        gear_of.append(place[first])
        blocks.append(_own_lags(s, weights, first))
    pull, gear = np.concatenate(pulls), np.concatenate(gear_of)
    covariance = np.linalg.inv(information)
    moved = pull @ covariance[:, :gears]
    by_gear = np.stack([moved[gear == g].sum(axis=0) for g in range(gears)])
    variance = _varying(np.concatenate(departures), block_diag(*blocks) - pull @ covariance @ pull.T)
    result: FloatArray = (
        variance * (moved.T @ moved) + GEAR_LAG_SD_S**2 * (by_gear.T @ by_gear) + LEFT_OUT_SD**2 * np.eye(gears)
    )
    return result


def _own_lags(s: InGear, weights: Weighting, first: NDArray[np.int64]) -> FloatArray:
    """Information on a lag of its own for each passage, (P, P), some passages at a time to spare memory."""
    number = np.repeat(np.arange(first.size), np.diff(first, append=s.rate.size))
    found = np.zeros((first.size, first.size))
    for start in range(0, first.size, _AT_A_TIME):
        some = np.arange(start, min(start + _AT_A_TIME, first.size))
        lags = np.asfortranarray(np.where(number[:, None] == some, s.rate[:, None], 0.0))
        found[:, some] = np.add.reduceat(s.rate[:, None] * weights.apply(lags), first)
    return found


def _varying(departure: FloatArray, information: FloatArray) -> float:
    """Variance of the lag from passage to passage, s^2: what the passages' own lags scatter beyond the noise.

    By the method of moments (R. DerSimonian and N. Laird, Controlled Clinical Trials 7, 177, 1986, there of trials):
    with the information M on own lags that the fit leaves, the departures have the covariance M + variance x M M.
    """
    own = np.diag(information)
    told = own > _LEAST_TOLD * max(float(own.max()), 1e-300)
    own = own[told]
    if own.size < _LEAST_PASSAGES:
        return 0.0
    z2 = departure[told] ** 2 / own
    beyond = np.sum(information[told] ** 2, axis=1) / own
    variance = 0.0
    for _ in range(_ROUNDS):
        tame = np.minimum(z2, _WILD_Z2 * (1 + variance * beyond))
        variance = max(0.0, float(np.sum(tame - 1))) / float(beyond.sum())
    return min(variance, PRIOR_LAG_SD_S**2)
