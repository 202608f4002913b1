"""Whether the stated gearbox has fewer gears than the sheets show, so that its ratios number nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.which_gear.numbering import COARSE, REACH, REACH_SD, SAME_GEAR, Numbering, Unplaced

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: How far beyond the first or the last stated gear a further one may lie, ln ratio (common practice, no source).
_BEYOND: Final = 0.6
#: Different readings of one setup that show a gear: one may be misread and another coarse (ours).
_READINGS: Final = 3


@dataclass(frozen=True, eq=False)
class Lacking:
    """What the stated gearbox lacks.

    Attributes
    ----------
    stated : int
        How many gears it has.
    rows : tuple of int
        Rows of this setup's sheets that note a gear above them, or lie where it has none.
    noted : bool
        Whether the gears of those rows were noted.
    """

    stated: int
    rows: tuple[int, ...]
    noted: bool


def lacking(setups: Sequence[Unplaced], numbers: Sequence[Numbering], rows: Sequence[int]) -> list[Lacking] | None:
    """Find what the stated gearbox lacks; None where nothing.

    Parameters
    ----------
    setups : sequence of Unplaced
        Readings of each setup, rows of sheets first.
    numbers : sequence of Numbering
        As the stated ladders number them.
    rows : sequence of int
        How many rows of sheets each has.
    """
    ladders = [s.ladder for s in setups]
    stated = min((ladder.size for ladder in ladders if ladder is not None), default=0)
    if not stated:
        return None
    above = [np.flatnonzero(s.gear[:n] > stated) for s, n in zip(setups, rows, strict=True)]
    if any(each.size for each in above):
        return [Lacking(stated, tuple(each.tolist()), noted=True) for each in above]
    off = [_off(*entry) for entry in zip(setups, numbers, rows, strict=True)]
    places = [s.log_ratio[each] - f.shift for s, f, each in zip(setups, numbers, off, strict=True)]
    shown = [
        tuple(int(row) for row, place in zip(each, own, strict=True) if _is_gear(place, places))
        for each, own in zip(off, places, strict=True)
    ]
    return [Lacking(stated, each, noted=False) for each in shown] if any(shown) else None


def _is_gear(place: float, places: Sequence[FloatArray]) -> bool:
    """Tell whether readings about a place are those of a gear: of two setups, or several of one."""
    near = [np.unique(each[np.abs(each - place) < SAME_GEAR]).size for each in places]
    return sum(n > 0 for n in near) > 1 or max(near) >= _READINGS


def _off(s: Unplaced, numbers: Numbering, rows: int) -> IntArray:
    """Rows without a noted gear that lie farther from every stated one than readings do."""
    if s.ladder is None:
        return np.empty(0, dtype=np.int64)
    value, sd = s.log_ratio[:rows], s.sd[:rows]
    ladder = s.ladder + numbers.shift
    away = np.min(np.abs(value[:, None] - ladder[None, :]), axis=1)
    near = (value < ladder.max() + _BEYOND) & (value > ladder.min() - _BEYOND)
    off = (numbers.gear[:rows] == 0) & (s.gear[:rows] == 0) & (sd < COARSE) & near
    return np.flatnonzero(off & (away > np.maximum(REACH, REACH_SD * sd)))
