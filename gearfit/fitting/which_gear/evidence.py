"""How surely the samples show a stated ladder: lag and place of the ladder sought together, and the odds of steps.

In a ride where hardly anything is steady, a lag L moves each ratio by L d ln n/dt: the ladder cannot be laid before the
lag is known, nor the lag be found by the crowding of the ratios, which is no sharper at the true one. A likelihood of
both at once tells. Against it stands that of ratios spread evenly, as a drive without steps shows them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.coarse_lag import thinned
from gearfit.fitting.pairing.observed import Observed, observe
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.which_gear.known_ladder import APART, LadderFit, best_of, log_prior
from gearfit.fitting.which_gear.ladder import Ladder

FloatArray = NDArray[np.float64]

#: Slack of a sample about its gear while gears are assigned, ln ratio (drive slip, uneven teeth, chain).
SLACK: Final = 0.004
_STEP_S: Final = 0.05
_LAGS_S: Final = np.arange(-0.3, 0.61, _STEP_S)
_SHIFTS: Final = np.arange(-0.2, 0.2, 0.002)
#: Samples needed to tell anything.
_LEAST_SAMPLES: Final = 20
#: A drive without steps crosses the place of a gear in about this time, s: within it, samples count as one.
_INDEPENDENT_S: Final = 1.0
#: Share of the samples, at both ends, beyond which ratios do not widen the spread they are compared with, and the least
#: spread of a drive without steps, ln ratio.
_TAIL: Final = 0.02
_LEAST_SPREAD: Final = 0.3
#: The least bend of a likelihood, and the least standard error of a lag, s.
_LEAST_BEND: Final = 0.1
_LEAST_SE_S: Final = 0.01
#: Shares of the samples in gear that are thought of where there are gears (a short pull: half; our assumption).
_SHARES: Final = (0.5, 0.65, 0.8, 0.95)
#: Samples are counted in bins of this width, ln ratio, and classes of their standard error from this one up, by twos.
_BIN: Final = 0.004
_FINEST: Final = 0.002
#: Log odds asked for: steps against no steps, and the best place of the ladder against the next.
LEAST_ODDS: Final = 7.0


@dataclass(frozen=True, eq=False)
class Place:
    """Where a ladder lies over the samples.

    Attributes
    ----------
    lags : tuple of (float, float)
        Lead of the engine-speed channel of each stream and its standard error, s.
    shift : LadderFit
        To be added to the ladder.
    odds : float
        Natural log of the odds of the ladder, so placed, against ratios spread evenly.
    """

    lags: tuple[tuple[float, float], ...]
    shift: LadderFit
    odds: float

    @property
    def sure(self) -> bool:
        """Whether steps are likelier than none by far, and this place than any other."""
        return self.odds >= LEAST_ODDS and self.shift.log_odds >= LEAST_ODDS


def place(streams: Sequence[Stream], ladder: Ladder) -> Place | None:
    """Lay a ladder over the samples, lags and shift together.

    Parameters
    ----------
    streams : sequence of Stream
        At least one.
    ladder : Ladder
        With an expected shift or without.

    Returns
    -------
    Place or None
        None where samples are few at some lag.
    """
    thin = [thinned(stream) for stream in streams]
    seen = [[observe(stream, float(lag_s), 0.0) for lag_s in _LAGS_S] for stream in thin]
    if min(o.log_ratio.size for row in seen for o in row) < _LEAST_SAMPLES:
        return None
    shifts = _shifts([row[0] for row in seen], ladder)
    each = [np.array([_log_odds(o, ladder.log_ratio, shifts) for o in row]) for row in seen]
    odds = np.sum([table.max(axis=0) for table in each], axis=0)
    found = best_of(shifts, odds + _prior(shifts, ladder))
    near = np.abs(shifts - found.shift) <= APART
    at = int(np.argmin(np.abs(shifts - found.shift)))
    return Place(tuple(_lag(table[:, near].max(axis=1)) for table in each), found, float(odds[at]))


def odds_of_steps(observed: Sequence[Observed], ladder: Ladder) -> float:
    """Return the log odds of the ladder, at its best place, against ratios spread evenly; -inf with few samples.

    The samples are taken at the lags at which they were paired.
    """
    if sum(o.log_ratio.size for o in observed) < _LEAST_SAMPLES:
        return -np.inf
    shifts = _shifts(observed, ladder)
    odds = np.sum([_log_odds(o, ladder.log_ratio, shifts) for o in observed if o.log_ratio.size], axis=0)
    return float(odds[np.argmax(odds + _prior(shifts, ladder))])


def _shifts(observed: Sequence[Observed], ladder: Ladder) -> FloatArray:
    """Shifts to try: about the expected one, or wherever the ladder meets samples."""
    if ladder.expected_shift is not None:
        return np.asarray(ladder.expected_shift + _SHIFTS)
    lowest = min(float(o.log_ratio.min()) for o in observed if o.log_ratio.size)
    highest = max(float(o.log_ratio.max()) for o in observed if o.log_ratio.size)
    return np.arange(lowest - ladder.log_ratio.max(), highest - ladder.log_ratio.min(), _SHIFTS[1] - _SHIFTS[0])


def _prior(shifts: FloatArray, ladder: Ladder) -> FloatArray:
    if ladder.expected_shift is None:
        return np.zeros(shifts.size)
    return log_prior(shifts - ladder.expected_shift, ladder.shift_sd)


def _lag(profile: FloatArray) -> tuple[float, float]:
    """Top of the parabola through the best three lags, and the standard error that its curvature gives."""
    i = int(np.clip(np.argmax(profile), 1, profile.size - 2))
    before, best, after = profile[i - 1 : i + 2]
    bend = max(2 * best - before - after, _LEAST_BEND)
    lag_s = float(_LAGS_S[i]) + _STEP_S * float(np.clip((after - before) / (2 * bend), -1, 1))
    return lag_s, max(_STEP_S / bend**0.5, _LEAST_SE_S)


def _log_odds(o: Observed, ladder: FloatArray, shifts: FloatArray) -> FloatArray:
    """Log odds of the ladder, at the share in gear that suits best, against evenly spread ratios, at each shift."""
    weight = np.minimum(1.0, o.seconds / _INDEPENDENT_S)
    count, value, width = _binned(o.log_ratio, np.hypot(o.log_ratio_sd, SLACK), weight)
    spread = max(float(np.ptp(np.quantile(o.log_ratio, [_TAIL, 1 - _TAIL]))), _LEAST_SPREAD)
    z = (value[:, None] - shifts[:, None, None] - ladder) / width[:, None]
    density = np.exp(-0.5 * z**2).sum(axis=-1) / (np.sqrt(2 * np.pi) * width * ladder.size)
    odds: FloatArray = np.max([np.log1p(share * (density * spread - 1)) @ count for share in _SHARES], axis=0)
    return odds


def _binned(values: FloatArray, sd: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Count samples alike in value and standard error as one: weight, mean value and standard error of each bin."""
    fineness = np.clip(np.round(np.log2(sd / _FINEST)), 0, 7).astype(np.int64)
    _, inverse = np.unique(8 * np.round(values / _BIN).astype(np.int64) + fineness, return_inverse=True)
    total = np.bincount(inverse, weight).astype(np.float64)
    square = np.bincount(inverse, weight * sd**2) / total
    return total, np.bincount(inverse, weight * values) / total, np.sqrt(square + _BIN**2 / 12)
