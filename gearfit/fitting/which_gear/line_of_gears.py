"""Whether steps found in the samples stand as a gearbox's do: from gear to gear their distances shrink, or nearly so.

A step with no room between its neighbours is no gear. A distance too wide for the steps below it hides one that was
never ridden. Both are common practice of gearbox design, without a source.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: A distance below this share of the next one up leaves no room for the step between (ours, tried).
_ROOM: Final = 0.7
#: A distance beyond this many times the one below it, and by this much, ln ratio, hides a gear (ours, tried).
_WIDE: Final = 1.1
_WIDER: Final = 0.03


def without_room(centres: FloatArray, seconds: FloatArray) -> NDArray[np.bool_]:
    """Mark the steps that stand too near to the next one up, and are less ridden than both neighbours.

    Parameters
    ----------
    centres : (G,) float
        ln(n/v), descending.
    seconds : (G,) float
        Riding time at each.
    """
    marked = np.zeros(centres.size, dtype=bool)
    distance = -np.diff(centres)
    for g in range(1, centres.size - 2):
        crowded = distance[g] < _ROOM * distance[g + 1]
        marked[g] = crowded and seconds[g] < min(seconds[g - 1], seconds[g + 1])
    return marked


def places_in_line(centres: FloatArray) -> IntArray:
    """Return the numbers of the steps from 0 on, one left out where a gear was skipped: (G,) to (G,)."""
    distance = -np.diff(centres)
    jump = np.ones(centres.size, dtype=np.int64)
    for g in range(1, distance.size):
        if distance[g] > max(_WIDE * distance[g - 1], distance[g - 1] + _WIDER):
            jump[g + 1] = 2
    return np.asarray(np.cumsum(jump) - 1)


def filled(centres: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return the numbers of the steps as `places_in_line`, and a ratio for every number, skipped gears' too.

    Parameters
    ----------
    centres : (G,) float
        ln(n/v), descending; at least one.

    Returns
    -------
    (G,) int, (N,) float
        Numbers from 0 on; ln(n/v) of all N numbers.
    """
    place = places_in_line(centres)
    return place, np.interp(np.arange(int(place[-1]) + 1), place, centres)
