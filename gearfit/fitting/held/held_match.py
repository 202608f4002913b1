"""Decides which plateau each row of a held-rpm sheet belongs to, or why that cannot be told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.held.held_gears import Guesses, along_ladder, free_gears
from gearfit.fitting.held.held_rpm import Pairing, matched
from gearfit.fitting.which_gear.ladder import Ladder

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Levels farther apart than this are two; the best must be cheaper by this much to be believed, and by this much where
#: neither ladder nor times hold it.
_APART: Final = 0.02
LEAST_LEAD: Final = 3.0
_FREE_LEAD: Final = 5.0
#: Rows that must find a plateau: at least this many, and this share.
LEAST_ROWS: Final = 3
_LEAST_SHARE: Final = 0.6


@dataclass(frozen=True, eq=False)
class Match:
    """What was matched.

    Attributes
    ----------
    plateau : (R,) int
        Plateau of each row, -1 none.
    clock : int
        Way to set the clock that was used.
    unsure : (R,) bool
        Rows that might belong to several plateaus, and were left without one.
    reason : str
        Why nothing was matched; empty where something was.
    """

    plateau: IntArray
    clock: int
    unsure: NDArray[np.bool_]
    reason: str


def match_rows(known: Pairing, ladder: Ladder | None) -> Match:
    """Match rows with plateaus; the gears of the rows are within the ladder where there is one."""
    rows, places = known.gear.size, known.log_speed.size
    if min(rows, places) < LEAST_ROWS:
        return _nothing(rows, f"{rows} rows and {places} held speeds are too few to match")
    guesses = free_gears(known) if ladder is None else along_ladder(known, ladder)
    if guesses.cost.size == 0:
        return _nothing(rows, "no held speeds of the track lie as gears do")
    best = int(np.argmin(guesses.cost))
    clock = guesses.clock[best : best + 1]
    expected = known.log_rpm - guesses.level[:, best]
    plateau = matched(known, np.nan_to_num(expected, nan=np.inf)[:, None], clock)[:, 0]
    found = int(np.sum(plateau >= 0))
    if found < max(LEAST_ROWS, _LEAST_SHARE * rows):
        return _nothing(rows, f"only {found} of {rows} rows find a held speed of the track, in order")
    by_order_alone = clock[0] == known.off_time.shape[0] - 1
    asked = _FREE_LEAD if ladder is None and by_order_alone else LEAST_LEAD
    unsure = (plateau >= 0) & (_lead(guesses, best) < asked)
    if found - int(unsure.sum()) < max(LEAST_ROWS, _LEAST_SHARE * rows):
        return _nothing(rows, "the held speeds of the track fit the rows in more than one way")
    return Match(np.where(unsure, -1, plateau), int(clock[0]), unsure, "")


def _lead(guesses: Guesses, best: int) -> FloatArray:
    """By how much each guess that puts a row's gear elsewhere, or nowhere, costs more than the best; least, (R,)."""
    far = ~(np.abs(guesses.level - guesses.level[:, best : best + 1]) <= _APART)
    lead: FloatArray = np.min(np.where(far, guesses.cost - guesses.cost[best], np.inf), axis=1)
    return lead


def _nothing(rows: int, reason: str) -> Match:
    return Match(np.full(rows, -1, dtype=np.int64), 0, np.zeros(rows, dtype=bool), reason)
