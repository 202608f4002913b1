"""Which gear at each moment of a timed log: the most likely path through gears and "none".

A hidden Markov chain: gears change only by way of "none" (clutch in, shifting, neutral), a gear lasts for seconds.
Found by Viterbi's algorithm (A. J. Viterbi, IEEE Trans. Information Theory 13(2), 260, 1967). Long rides are cut into
windows that are searched side by side; each reaches some seconds of riding beyond the part that is kept of it, because
paths from whatever state at a window's ends run together within those.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.passage import PAUSE_S, bounds, passages

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
#: ... and are about this many at most: past that they grow longer, so that overlaps cost long rides less.
_WINDOWS: Final = 2000
#: An engagement shorter than this many samples, or this time, is a crossing and not a gear.
_LEAST_SAMPLES: Final = 2
_LEAST_S: Final = 0.3


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
    overlap = max(_LEAST_OVERLAP, round(_OVERLAP_S / max(usual_s, 1e-3)))
    own = max(overlap, n // _WINDOWS)
    width = min(n, own + 2 * overlap)
    starts = np.arange(0, n, own) if width < n else np.zeros(1, dtype=np.int64)
    first = np.clip(starts - overlap, 0, n - width)
    at = first + np.arange(width)[:, None]
    away_s = np.clip(step_s, 0.02, PAUSE_S)
    leave = np.log(-np.expm1(-away_s / _STAY_S))
    enter = np.log(-np.expm1(-away_s / _AWAY_S) / gears)
    path = _viterbi(_emission(log_ratio[at], sd[at], centres, temper), leave[at], enter[at])
    if width < n:
        path = np.concatenate([path[s - first[k] :][: min(own, n - s), k] for k, s in enumerate(starts)])[:, None]
    return _short_ones_out(time_s, path[:, 0])


def _emission(log_ratio: FloatArray, sd: FloatArray, centres: FloatArray, temper: float) -> FloatArray:
    """Log density in each gear less that in none, tempered: (W, K) to (W, K, G)."""
    z: FloatArray = log_ratio[..., None] - centres
    z /= sd[..., None]
    np.clip(z, -_LIMIT_SD, _LIMIT_SD, out=z)
    np.square(z, out=z)
    z *= -0.5 * temper
    z -= temper * np.log(_NONE_DENSITY * np.sqrt(2 * np.pi) * sd)[..., None]
    return z


def _viterbi(emission: FloatArray, leave: FloatArray, enter: FloatArray) -> IntArray:
    """Most likely path through each of K windows at once: (W, K, G), (W, K), (W, K) to (W, K)."""
    width, windows, gears = emission.shape
    each = np.arange(windows)
    score = emission[0] - np.log(gears + 1.0)
    none = np.full(windows, -np.log(gears + 1.0))
    from_none = np.zeros((width, windows, gears), dtype=bool)
    none_from = np.full((width, windows), -1, dtype=np.int8)
    for i in range(1, width):
        best = score.argmax(axis=1)
        leaving = score[each, best] + leave[i]
        entering = (none + enter[i])[:, None]
        np.greater(entering, score, out=from_none[i])
        np.copyto(none_from[i], best, where=leaving > none, casting="unsafe")
        np.maximum(score, entering, out=score)
        score += emission[i]
        np.maximum(none, leaving, out=none)
    path = np.empty((width, windows), dtype=np.int64)
    state = np.where(score.max(axis=1) > none, score.argmax(axis=1), -1)
    for i in range(width - 1, -1, -1):
        path[i] = state
        began = from_none[i, each, state] & (state >= 0)
        state = np.where(state >= 0, np.where(began, -1, state), none_from[i])
    return path


def _short_ones_out(time_s: FloatArray, path: IntArray) -> IntArray:
    number = passages(time_s, path)
    first, last = bounds(number)
    short = (last - first + 1 < _LEAST_SAMPLES) | (time_s[last] - time_s[first] < _LEAST_S)
    return np.where((number >= 0) & ~np.append(short, False)[number], path, -1)
