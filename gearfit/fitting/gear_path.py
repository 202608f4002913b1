"""Which gear at each moment of a timed log: the most likely path through gears and "none".

A hidden Markov chain: gears change only by way of "none" (clutch in, shifting, neutral), a gear lasts for seconds.
Found by Viterbi's algorithm (A. J. Viterbi, IEEE Trans. Information Theory 13(2), 260, 1967). Long rides are cut into
windows that are searched side by side; each is three times as long as the part that is kept of it, because paths from
whatever state at a window's ends run together within some seconds of riding.
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
#: Windows overlap their neighbours by this much on both sides, s, and by as many samples at least.
_OVERLAP_S: Final = 8.0
_LEAST_OVERLAP: Final = 60
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
    own = max(_LEAST_OVERLAP, round(_OVERLAP_S / max(usual_s, 1e-3)))
    width = min(n, 3 * own)
    starts = np.arange(0, n, own) if width < n else np.zeros(1, dtype=np.int64)
    first = np.clip(starts - own, 0, n - width)
    at = first[:, None] + np.arange(width)
    path = _viterbi(emission[at], leave[at], enter[at])
    if width < n:
        path = np.concatenate([path[k, s - first[k] :][: min(own, n - s)] for k, s in enumerate(starts)])[None, :]
    return _short_ones_out(time_s, path[0])


def _viterbi(emission: FloatArray, leave: FloatArray, enter: FloatArray) -> IntArray:
    """Most likely path through each of K windows at once: (K, W, G), (K, W), (K, W) to (K, W)."""
    windows, width, gears = emission.shape
    each = np.arange(windows)
    score = emission[:, 0] - np.log(gears + 1.0)
    none = np.full(windows, -np.log(gears + 1.0))
    from_none = np.zeros((width, windows, gears), dtype=bool)
    none_from = np.full((width, windows), -1, dtype=np.int8)
    for i in range(1, width):
        best = score.argmax(axis=1)
        leaving = score[each, best] + leave[:, i]
        entering = none + enter[:, i]
        np.greater(entering[:, None], score, out=from_none[i])
        left = leaving > none
        none_from[i] = np.where(left, best, -1)
        score = np.maximum(score, entering[:, None]) + emission[:, i]
        none = np.where(left, leaving, none)
    path = np.empty((windows, width), dtype=np.int64)
    state = np.where(score.max(axis=1) > none, score.argmax(axis=1), -1)
    for i in range(width - 1, -1, -1):
        path[:, i] = state
        began = from_none[i, each, np.clip(state, 0, None)]
        state = np.where(state >= 0, np.where(began, -1, state), none_from[i])
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
