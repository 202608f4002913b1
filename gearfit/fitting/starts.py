"""Rides of hard starts alone: lag and place of a known ladder, sought together.

Where nothing is ridden steadily, a lag L moves each ratio by L d ln n/dt: the ladder cannot be laid before the lag is
known, nor the lag be found by the crowding of the ratios, which is no sharper at the true one. A likelihood of both at
once tells. Against it stands that of ratios spread evenly, as a drive without steps shows them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.coarse_lag import thinned
from gearfit.fitting.known_ladder import APART, INDEPENDENT_S, LadderFit, best_of, log_likelihood, log_prior
from gearfit.fitting.ladder import Ladder
from gearfit.fitting.observed import observe
from gearfit.fitting.settled_samples import SLACK
from gearfit.fitting.stream import Stream

FloatArray = NDArray[np.float64]

#: Channels with more than this between values, s, smear the short time in each gear of a start too much.
_FAST_ENOUGH_S: Final = 0.125
_STEP_S: Final = 0.05
_LAGS_S: Final = np.arange(-0.3, 0.61, _STEP_S)
_SHIFTS: Final = np.arange(-0.2, 0.2, 0.002)
#: Engine speeds that rise at least this fast are looked at, 1/s, and how many samples there must be.
_LEAST_RATE: Final = 0.03
_LEAST_SAMPLES: Final = 50
#: Share of the samples, at both ends, beyond which ratios do not widen the spread they are compared with.
_TAIL: Final = 0.02
#: The least bend of a likelihood, and the least standard error of a lag, s.
_LEAST_BEND: Final = 0.1
_LEAST_SE_S: Final = 0.01
#: Log odds asked for: steps against no steps, and the best place of the ladder against the next.
_LEAST_ODDS: Final = 5.0


@dataclass(frozen=True, eq=False)
class StartsPlace:
    """Where a ladder lies over the samples of starts.

    Attributes
    ----------
    lags : tuple of (float, float)
        Lead of the engine-speed channel of each stream and its standard error, s.
    shift : LadderFit
        To be added to the ladder.
    """

    lags: tuple[tuple[float, float], ...]
    shift: LadderFit


def place_by_starts(streams: Sequence[Stream], ladder: Ladder) -> StartsPlace | None:
    """Lay a ladder over the samples in which the engine speeds up, lags and shift together.

    Parameters
    ----------
    streams : sequence of Stream
        At least one.
    ladder : Ladder
        With an expected shift.

    Returns
    -------
    StartsPlace or None
        None where the channels are slower than eight values a second, samples are few, no shift is expected, or the
        odds do not suffice.
    """
    if ladder.expected_shift is None or any(_interval_s(stream) > _FAST_ENOUGH_S for stream in streams):
        return None
    shifts = ladder.expected_shift + _SHIFTS
    each = [_odds(thinned(stream), ladder.log_ratio, shifts) for stream in streams]
    odds = np.sum([table.max(axis=0) for table in each], axis=0)
    if not np.isfinite(odds).all():
        return None
    place = best_of(shifts, odds + log_prior(_SHIFTS, ladder.shift_sd))
    at = int(np.argmin(np.abs(shifts - place.shift)))
    if odds[at] < _LEAST_ODDS or place.log_odds < _LEAST_ODDS:
        return None
    near = np.abs(shifts - shifts[at]) <= APART
    return StartsPlace(tuple(_lag(table[:, near].max(axis=1)) for table in each), place)


def _lag(profile: FloatArray) -> tuple[float, float]:
    """Top of the parabola through the best three lags, and the standard error that its curvature gives."""
    i = int(np.clip(np.argmax(profile), 1, profile.size - 2))
    before, best, after = profile[i - 1 : i + 2]
    bend = max(2 * best - before - after, _LEAST_BEND)
    lag_s = float(_LAGS_S[i]) + _STEP_S * float(np.clip((after - before) / (2 * bend), -1, 1))
    return lag_s, max(_STEP_S / bend**0.5, _LEAST_SE_S)


def _interval_s(stream: Stream) -> float:
    speed_s = float(np.median(np.diff(stream.time_s))) if stream.time_s.size > 1 else np.inf
    return max(speed_s, stream.rpm_interval_s)


def _odds(stream: Stream, ladder: FloatArray, shifts: FloatArray) -> FloatArray:
    """Log odds of the ladder against evenly spread ratios at each lag and shift; none with few samples at any lag."""
    none = np.full((_LAGS_S.size, shifts.size), -np.inf)
    table = np.empty_like(none)
    for i, lag_s in enumerate(_LAGS_S):
        o = observe(stream, float(lag_s), 0.0)
        rising = o.rpm_rate > _LEAST_RATE
        if rising.sum() < _LEAST_SAMPLES:
            return none
        log_ratio, sd = o.log_ratio[rising], np.hypot(o.log_ratio_sd[rising], SLACK)
        weight = np.minimum(1.0, o.seconds[rising] / INDEPENDENT_S)
        spread = max(float(np.ptp(np.quantile(log_ratio, [_TAIL, 1 - _TAIL]))), SLACK)
        table[i] = log_likelihood(log_ratio, sd, weight, ladder, shifts) + weight.sum() * np.log(spread)
    return table
