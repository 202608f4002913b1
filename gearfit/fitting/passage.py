"""Which samples of a passage are away from the shifts at its ends."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Time left off at both ends of a passage, s: the clutch settles, and the smoothing of the engine speed (a quarter of
#: a second to both sides; slower channels lose their first and last sample) must not reach into the shift. Noise that
#: hangs together gives the ends of a passage the most weight, so what is wrong there counts double.
SETTLE_S: Final = 0.35


def settled(time_s: FloatArray, path: IntArray, number: IntArray) -> NDArray[np.bool_]:
    """Mark the samples that lie away from the ends of their passage.

    Parameters
    ----------
    time_s : (n,) float
        Times, ascending.
    path, number : (n,) int
        Gear position and passage of each sample, -1 for none.

    Returns
    -------
    (n,) bool
        A gear with no passage long enough keeps all its samples.
    """
    inside = number >= 0
    if not inside.any():
        return inside
    first, last = np.full(number.max() + 1, np.inf), np.full(number.max() + 1, -np.inf)
    np.minimum.at(first, number[inside], time_s[inside])
    np.maximum.at(last, number[inside], time_s[inside])
    at = np.clip(number, 0, None)
    away = inside & (time_s >= first[at] + SETTLE_S) & (time_s <= last[at] - SETTLE_S)
    left = np.bincount(path[away], minlength=int(path.max()) + 1)
    result: NDArray[np.bool_] = away | (inside & (left[np.clip(path, 0, None)] == 0))
    return result
