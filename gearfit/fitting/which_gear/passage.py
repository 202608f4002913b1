"""Passages, unbroken stretches in one gear: where they are, and which of their samples lie away from the shifts."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Two engagements with more time than this between samples are two passages, whatever their gears.
PAUSE_S: Final = 3.0
#: Time left off at both ends of a passage, s: the clutch settles, and the smoothing of the engine speed (a quarter of
#: a second to both sides; slower channels lose their first and last sample) must not reach into the shift. Noise that
#: hangs together gives the ends of a passage the most weight, so what is wrong there counts double.
SETTLE_S: Final = 0.35


def stretches(time_s: FloatArray, path: IntArray) -> IntArray:
    """Return the first sample of each unbroken stretch in one gear or in none (of at least one sample in all)."""
    return np.append(0, np.flatnonzero((path[1:] != path[:-1]) | (np.diff(time_s) > PAUSE_S)) + 1)


def passages(time_s: FloatArray, path: IntArray) -> IntArray:
    """Give each unbroken stretch in one gear its number 0, 1, 2 …; -1 where in none."""
    if path.size == 0:
        return np.empty(0, dtype=np.int64)
    first = stretches(time_s, path)
    engaged = path[first] >= 0
    number = np.where(engaged, np.cumsum(engaged) - 1, -1)
    return np.repeat(number, np.diff(first, append=path.size))


def bounds(number: IntArray) -> tuple[IntArray, IntArray]:
    """Return the first and the last sample of each passage, from the passage of each sample (as `passages`)."""
    framed = np.concatenate([[-1], number, [-1]])
    breaks = np.flatnonzero(framed[1:] != framed[:-1])
    return breaks[framed[breaks + 1] >= 0], breaks[framed[breaks] >= 0] - 1


def away_from_shifts(time_s: FloatArray, number: IntArray) -> NDArray[np.bool_]:
    """Mark the samples that lie away from the ends of their passage, from the passage of each."""
    inside = number >= 0
    if not inside.any():
        return inside
    first, last = bounds(number)
    result: NDArray[np.bool_] = (
        inside & (time_s >= time_s[first][number] + SETTLE_S) & (time_s <= time_s[last][number] - SETTLE_S)
    )
    return result


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
    away = away_from_shifts(time_s, number)
    left = np.bincount(path[away], minlength=int(path.max()) + 1)
    result: NDArray[np.bool_] = away | (inside & (left == 0)[path])
    return result
