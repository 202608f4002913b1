"""The few times of a recording that cannot be right: a clock before its first fix, a rollover, a slip of a digit.

They are left out before anything is laid out in time. One such value would stretch a ride over decades.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: A row that stands out of order by more than this was not written late: its clock was wrong, s.
_LATE_S: Final = 60.0
#: Rows farther than this from all others are wrong if they are no more than a slip, s ...
_APART_S: Final = 86_400.0
_SLIP: Final = 10
#: ... or, farther than this, whatever a receiver sent before it knew the date, s.
_NEVER_SET_S: Final = 365 * 86_400.0
#: Largest share of rows that may be wrong; with more there is no telling which are.
_FEW: Final = 0.1


def strays(time_s: Floats) -> Bools:
    """Mark the times that disagree with the order of the file or lie far from all others.

    Parameters
    ----------
    time_s : (n,) float
        Times in the order of the file, s; NaN where a row has none.

    Returns
    -------
    (n,) bool
        None is marked where it would be more than a tenth of them. More than ten rows in a series of their own are
        another ride, unless they lie more than a year off.
    """
    marked = np.zeros(time_s.size, dtype=bool)
    rows = np.flatnonzero(np.isfinite(time_s))
    seconds = time_s[rows]
    steps = np.diff(seconds)
    if not ((steps < -_LATE_S) | (steps > _APART_S)).any():
        return marked
    few = _FEW * seconds.size
    wrong = _far_off(seconds, few, _NEVER_SET_S) | _far_off(seconds, min(few, _SLIP), _APART_S)
    wrong[~wrong] = _out_of_order(seconds[~wrong])
    if wrong.sum() <= few:
        marked[rows] = wrong
    return marked


def _far_off(seconds: Floats, few: float, apart_s: float) -> Bools:
    """Mark groups of few times, farther apart than that from those of larger groups."""
    order = np.argsort(seconds, kind="stable")
    era = np.empty(seconds.size, dtype=np.int64)
    era[order] = np.cumsum(np.diff(seconds[order], prepend=seconds[order[0]]) > apart_s)
    sparse = np.bincount(era) <= few
    return np.zeros(seconds.size, dtype=bool) if sparse.all() else sparse[era]


def _out_of_order(seconds: Floats) -> Bools:
    """Mark times that lie more than a minute before or behind their place in the longest series in order."""
    if not (np.diff(seconds) < -_LATE_S).any():
        return np.zeros(seconds.size, dtype=bool)
    chain = _longest_in_order(seconds)
    place = np.searchsorted(chain, np.arange(seconds.size), side="right")
    before = np.append(-np.inf, seconds[chain])[place]
    after = np.append(seconds[chain], np.inf)[place]
    marked: Bools = (seconds < before - _LATE_S) | (seconds > after + _LATE_S)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], marked, [False])).astype(np.int8)))
    return marked if np.max(edges[1::2] - edges[::2], initial=0) <= _SLIP else np.zeros_like(marked)


def stray_note(count: int, word: str, first: str) -> str:
    """Say how many rows or points were left out, and which was the first."""
    said = f"1 {word} whose clock disagrees" if count == 1 else f"{count} {word}s whose clock disagrees"
    return f"{said} with the {word}s around left out (the first is {first})."


def _longest_in_order(seconds: Floats) -> NDArray[np.int64]:
    """Return the rows of the longest series of times that never falls (patience sorting, n log n)."""
    values = seconds.tolist()
    ends: list[float] = []
    at: list[int] = []
    before = []
    for row, value in enumerate(values):
        place = bisect_right(ends, value)
        before.append(at[place - 1] if place else -1)
        if place == len(ends):
            ends.append(value)
            at.append(row)
        else:
            ends[place], at[place] = value, row
    chain = [at[-1]]
    while before[chain[-1]] >= 0:
        chain.append(before[chain[-1]])
    return np.array(chain[::-1], dtype=np.int64)
