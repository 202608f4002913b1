"""Which gear at each moment of a timed log: the most likely path through gears and "none".

A hidden Markov chain: gears change only by way of "none" (clutch in, shifting, neutral), a gear lasts for seconds.
Found by Viterbi's algorithm (A. J. Viterbi, IEEE Trans. Information Theory 13(2), 260, 1967).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Usual time in one gear and usual time between two, s.
_STAY_S: Final = 10.0
_AWAY_S: Final = 1.5
#: Neighbouring samples closer than this carry shared noise; each counts for less.
_INDEPENDENT_S: Final = 0.4
_LEAST_TEMPER: Final = 0.25
#: Density of ln ratio while in no gear.
_NONE_DENSITY: Final = 0.5
#: Departures beyond this many standard errors cost no more (a bound on the pull of one wild sample).
_LIMIT_SD: Final = 6.0
#: An engagement shorter than this many samples, or this time, is a crossing and not a gear.
_LEAST_SAMPLES: Final = 2
_LEAST_S: Final = 0.3
#: Two engagements with more time than this between samples are two passages, whatever their gears.
PAUSE_S: Final = 3.0


def most_likely_path(time_s: FloatArray, log_ratio: FloatArray, sd: FloatArray, centres: FloatArray) -> IntArray:
    """Give each sample the position of its gear in `centres`, or -1 for none.

    Parameters
    ----------
    time_s, log_ratio, sd : (n,) float
        Times ascending; ln(n/v); its standard error with everything that scatters about a gear's centre.
    centres : (G,) float
        ln(n/v) of each gear.
    """
    n, gears = log_ratio.size, centres.size
    if n == 0:
        return np.empty(0, dtype=np.int64)
    step_s = np.diff(time_s, prepend=time_s[0])
    usual_s = float(np.median(step_s[1:])) if n > 1 else 1.0
    temper = min(1.0, max(_LEAST_TEMPER, usual_s / _INDEPENDENT_S))
    z = np.clip((log_ratio[:, None] - centres[None, :]) / sd[:, None], -_LIMIT_SD, _LIMIT_SD)
    emission = temper * (-0.5 * z**2 - np.log(sd * np.sqrt(2 * np.pi))[:, None] - np.log(_NONE_DENSITY))
    leave = np.log(-np.expm1(-np.clip(step_s, 0.02, PAUSE_S) / _STAY_S))
    enter = np.log(-np.expm1(-np.clip(step_s, 0.02, PAUSE_S) / _AWAY_S) / gears)
    score = np.full(gears, -np.log(gears + 1.0)) + emission[0]
    none = -float(np.log(gears + 1.0))
    from_none = np.zeros((n, gears), dtype=bool)
    none_from = np.full(n, -1, dtype=np.int64)
    for i in range(1, n):
        best = int(score.argmax())
        entering = none + enter[i]
        from_none[i] = entering > score
        next_none = none
        if score[best] + leave[i] > none:
            next_none, none_from[i] = float(score[best]) + leave[i], best
        score = np.maximum(score, entering) + emission[i]
        none = next_none
    return _short_ones_out(time_s, _backtrack(score, none, from_none, none_from))


def _backtrack(score: FloatArray, none: float, from_none: NDArray[np.bool_], none_from: IntArray) -> IntArray:
    path = np.empty(none_from.size, dtype=np.int64)
    state = int(score.argmax()) if score.max() > none else -1
    for i in range(path.size - 1, -1, -1):
        path[i] = state
        in_gear = state >= 0
        state = (-1 if from_none[i, state] else state) if in_gear else int(none_from[i])
    return path


def passages(time_s: FloatArray, path: IntArray) -> IntArray:
    """Give each unbroken stretch in one gear its number 0, 1, 2 …; -1 where in none."""
    new = np.ones(path.size, dtype=bool)
    new[1:] = (path[1:] != path[:-1]) | (np.diff(time_s) > PAUSE_S)
    number = np.cumsum(new & (path >= 0)) - 1
    return np.where(path >= 0, number, -1)


def _short_ones_out(time_s: FloatArray, path: IntArray) -> IntArray:
    number = passages(time_s, path)
    inside = number >= 0
    if not inside.any():
        return path
    count = np.bincount(number[inside])
    first = np.full(count.size, np.inf)
    last = np.full(count.size, -np.inf)
    np.minimum.at(first, number[inside], time_s[inside])
    np.maximum.at(last, number[inside], time_s[inside])
    short = (count < _LEAST_SAMPLES) | (last - first < _LEAST_S)
    return np.where(inside & ~short[np.clip(number, 0, None)], path, -1)
