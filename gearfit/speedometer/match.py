"""Which held speed of a track a row of a sheet of shown speeds belongs to.

A rider who notes only what the dash shows, in the order ridden, leaves the true speeds to the track. Rows and held
speeds are matched in order; where another match does nearly as well, nothing is matched.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Gains tried at the start, and the scatter about the line that a match may have, m/s.
_GAINS: Final = np.arange(0.88, 1.221, 0.01)
_LARGEST_RMS_MPS: Final = 0.5
#: Another match whose gain differs by this counts as another one; it must be worse by this factor and amount.
_OTHER_GAIN, _FACTOR, _MORE_MPS = 0.02, 2.0, 0.1
FEWEST_ROWS: Final = 4


def match_in_order(shown_mps: FloatArray, held_mps: FloatArray) -> FloatArray | None:
    """Match rows with held speeds, both in order of time.

    Parameters
    ----------
    shown_mps : (R,) float
        What the dash showed.
    held_mps : (P,) float
        Held speeds of the track.

    Returns
    -------
    (R,) float or None
        True speed of each row; None where there is no match, or more than one.
    """
    if shown_mps.size < FEWEST_ROWS or held_mps.size < shown_mps.size:
        return None
    found: list[tuple[float, float, IntArray]] = []
    for gain in _GAINS:
        offset = 0.0
        for _ in range(3):
            at = assign(shown_mps, offset + gain * held_mps)
            if np.ptp(held_mps[at]) < 1.0:
                break
            gain, offset = (float(v) for v in np.polyfit(held_mps[at], shown_mps, 1))
        rms = float(np.sqrt(np.mean((shown_mps - offset - gain * held_mps[at]) ** 2)))
        if _GAINS[0] <= gain <= _GAINS[-1]:
            found.append((rms, gain, at))
    if not found:
        return None
    rms, gain, at = min(found, key=lambda one: one[0])
    rival = min((one[0] for one in found if abs(one[1] - gain) > _OTHER_GAIN), default=np.inf)
    if rms > _LARGEST_RMS_MPS or rival < _FACTOR * rms + _MORE_MPS:
        return None
    return held_mps[at]


def assign(shown_mps: FloatArray, expected_mps: FloatArray) -> IntArray:
    """Assign each row to a held speed, ascending, with the least sum of squares."""
    rows, held = shown_mps.size, expected_mps.size
    cost = (shown_mps[:, None] - expected_mps) ** 2
    best = np.full((rows + 1, held + 1), np.inf)
    best[0] = 0.0
    taken = np.zeros((rows + 1, held + 1), dtype=bool)
    for r in range(1, rows + 1):
        use = best[r - 1, :-1] + cost[r - 1]
        best[r, 1:] = np.minimum.accumulate(use)
        taken[r, 1:] = use < best[r, :-1]
    at, r, h = np.empty(rows, dtype=np.int64), rows, held
    while r:
        if taken[r, h]:
            at[r - 1] = h - 1
            r -= 1
        h -= 1
    return at
