"""Which gear at each moment of a timed log: the most likely path through gears and "none".

A hidden Markov chain: gears change only by way of "none" (clutch in, shifting, neutral), a gear lasts for seconds.
Found by the scores of Viterbi's algorithm (A. J. Viterbi, IEEE Trans. Information Theory 13(2), 260, 1967) from both
ends: the best path through a state at some moment is the best one up to it and then the best one from it on, so the
most likely path goes through the state where both scores together are highest. Rides are cut into pieces, searched
side by side; each search begins some seconds of riding before its piece, because paths from whatever state run together
within those. The way back is searched beside the way there: to enter is to leave, seen from the other end.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.medians import median
from gearfit.fitting.which_gear.passage import PAUSE_S, stretches

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
#: A search begins this much before its piece, s, and as many samples at least.
_LEAD_S: Final = 8.0
_LEAST_LEAD: Final = 60
#: Samples searched at once: more do not fit into a processor's nearer memory.
_AT_ONCE: Final = 40_000
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
    n = log_ratio.size
    if n == 0:
        return np.empty(0, dtype=np.int64)
    step_s = np.diff(time_s, prepend=time_s[0])
    usual_s = median(step_s[1:]) if n > 1 else 1.0
    temper = min(1.0, max(_LEAST_TEMPER, usual_s / _INDEPENDENT_S))
    lead = max(_LEAST_LEAD, round(_LEAD_S / max(usual_s, 1e-3)))
    away_s = np.minimum(np.maximum(step_s, 0.02), PAUSE_S)
    leave = np.log(-np.expm1(-away_s / _STAY_S))
    enter = np.log(-np.expm1(-away_s / _AWAY_S) / centres.size)
    path, at_once = np.empty(n, dtype=np.int64), max(_AT_ONCE, 4 * lead)
    for start in range(0, n, at_once):
        first = max(0, start - lead)
        part = slice(first, start + at_once + lead)
        found = _search(log_ratio[part], sd[part], leave[part], enter[part], centres, temper, lead)
        path[start : start + at_once] = found[start - first :][:at_once]
    return _short_ones_out(time_s, path)


def _search(
    log_ratio: FloatArray,
    sd: FloatArray,
    leave: FloatArray,
    enter: FloatArray,
    centres: FloatArray,
    temper: float,
    lead: int,
) -> IntArray:
    """Most likely state of each of n samples, in pieces side by side or, where they are few, in one."""
    n = log_ratio.size
    size, lead = (n, 0) if n <= 3 * lead else (lead, lead)
    emission = _emission(_pieces(log_ratio, size), _pieces(sd, size, 1.0), centres, temper)
    emission[size - -n % size :, :, -1] = 0.0
    return _best_states(emission, leave, enter, lead).T.reshape(-1)[:n]


def _pieces(values: FloatArray, size: int, fill: float = 0.0) -> FloatArray:
    """Cut a series into pieces, one a column; the last one is filled up."""
    return np.append(values, np.full(-values.size % size, fill)).reshape(-1, size).T


def _emission(log_ratio: FloatArray, sd: FloatArray, centres: FloatArray, temper: float) -> FloatArray:
    """Log density in each gear less that in none, tempered: (W, K) to (W, G, K)."""
    z: FloatArray = log_ratio[:, None] - centres[:, None]
    z /= sd[:, None]
    np.square(z, out=z)
    np.minimum(z, _LIMIT_SD**2, out=z)
    z *= -0.5 * temper
    z -= temper * np.log(_NONE_DENSITY * np.sqrt(2 * np.pi) * sd)[:, None]
    return z


def _best_states(emission: FloatArray, leave: FloatArray, enter: FloatArray, lead: int) -> IntArray:
    """Most likely state of each sample of K pieces: (W, G, K), (n,), (n,) to (W, K).

    Samples that fill up the last piece have no emission: they favour no state.
    """
    size, gears, count = emission.shape
    room = -(-lead // size)
    table = np.zeros((size, gears + 3, 2 * (room + count)))
    ahead, behind = table[..., room : room + count], table[::-1, :, : -count - 1 : -1]
    ahead[:, :gears] = behind[:, :gears] = emission
    ahead[:, -2], ahead[:, -1] = _pieces(leave, size), _pieces(enter, size)
    behind[:, -2], behind[:, -1] = (_pieces(np.append(x[1:], 0.0), size) for x in (enter, leave))
    _score(table, lead, room)
    best = ahead[:, gears] + behind[:, gears]
    path = np.full((size, count), -1)
    for g in range(gears):
        total = ahead[:, g] + behind[:, g] - emission[:, g]
        np.copyto(path, g, where=total > best)
        np.maximum(best, total, out=best)
    return path


def _score(table: FloatArray, lead: int, room: int) -> None:
    """Turn the emissions in a table of pieces, all but the first `room`, into the scores of each state.

    (W, G + 3, K): a row for each gear, for none, for what leaving a gear scores and for what entering one scores.
    """
    size, rows, count = table.shape
    count -= room
    score = np.zeros((rows - 2, count))
    gears, none = score[:-1], score[-1]
    for step in range(lead + size):
        before, at = divmod(step - lead, size)
        now = table[at, :, room + before : room + before + count]
        if step > 0:
            leaving = np.maximum.reduce(gears, axis=0)
            leaving += now[-2]
            np.maximum(gears, none + now[-1], out=gears)
            np.maximum(none, leaving, out=none)
        score += now[:-2]
        if before == 0:
            now[:-2] = score


def _short_ones_out(time_s: FloatArray, path: IntArray) -> IntArray:
    first = stretches(time_s, path)
    length = np.diff(first, append=path.size)
    short = (length < _LEAST_SAMPLES) | (time_s[first + length - 1] - time_s[first] < _LEAST_S)
    return np.repeat(np.where(short, -1, path[first]), length)
