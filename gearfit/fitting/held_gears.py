"""Guesses of where the gears lie, and which of them the rows and plateaus of a ride leave standing.

With a ladder only its common shift is unknown. Without one each gear's k_g = ln(n/v) is: one that lays a row of the
gear upon a plateau. Gears are put together one after the other, the one with most rows first, and the guesses that cost
least are kept; higher gears have lower ratios. A free gear pays for its freedom: any plateau would suit its first row.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.held_rpm import Pairing, cheapest, matched
from gearfit.fitting.ladder import Ladder

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Shifts searched around the expected one, and their step; around nothing expected, the reach is wide.
_REACH: Final = 0.30
_WIDE_REACH: Final = 0.9
_STEP: Final = 0.004
#: Steps between neighbouring gears, ln ratio: least and most that are built (common practice, no source).
_LEAST_STEP, _MOST_STEP = 0.04, 0.65
#: Cost of a free gear: its first row fits one place in a range of e^1.5 as well as any other.
FREE_GEAR: Final = 3.8
#: Guesses of one gear, and of several together, that are kept; ways to set the clock that are followed up.
_KEPT_OF_ONE: Final = 60
_KEPT: Final = 120
_CLOCKS: Final = 3
#: Guesses of one gear are this far apart, ln ratio; clocks that are followed up at least so many steps.
_APART: Final = 0.004
_CLOCKS_APART: Final = 3


@dataclass(frozen=True, eq=False)
class Guesses:
    """H guesses: k_g of each row (R, H), way to set the clock (H,), cost (H,)."""

    level: FloatArray
    clock: IntArray
    cost: FloatArray


def along_ladder(known: Pairing, ladder: Ladder) -> Guesses:
    """Every shift of a ladder with the clock that suits it best; gears of the rows are within the ladder."""
    base = ladder.log_ratio[known.gear - 1]
    if ladder.expected_shift is None:
        middle = float(np.median(known.log_rpm - base) - np.median(known.log_speed))
        shifts = middle + np.arange(-_WIDE_REACH, _WIDE_REACH, _STEP)
        prior = np.zeros(shifts.size)
    else:
        shifts = ladder.expected_shift + np.arange(-_REACH, _REACH, _STEP)
        prior = 0.5 * ((shifts - ladder.expected_shift) / ladder.shift_sd) ** 2
    level = base[:, None] + shifts
    cost = _by_clock(known, level)
    clock = np.argmin(cost, axis=0)
    return Guesses(level, clock, cost[clock, np.arange(shifts.size)] + prior)


def free_gears(known: Pairing) -> Guesses:
    """Search the gears without a ladder."""
    gears, count = np.unique(known.gear, return_counts=True)
    gears = gears[np.argsort(-count, kind="stable")]
    alone = {int(gear): _of_one_gear(known, int(gear)) for gear in gears}
    total = np.sum([cost.min(axis=1) for _, cost in alone.values()], axis=0)
    found = [_together(known, gears, alone, clock) for clock in _best_clocks(total)]
    return Guesses(
        np.concatenate([g.level for g in found], axis=1),
        np.concatenate([g.clock for g in found]),
        np.concatenate([g.cost for g in found]),
    )


def _of_one_gear(known: Pairing, gear: int) -> tuple[FloatArray, FloatArray]:
    """Levels that lay a row of the gear upon a plateau (K,), and the cost of its rows for each clock (T, K)."""
    part = known.of_rows(known.gear == gear)
    level = np.unique(np.round((part.log_rpm[:, None] - part.log_speed).ravel() / _APART)) * _APART
    return level, _by_clock(part, np.repeat(level[None, :], part.gear.size, axis=0))


def _by_clock(known: Pairing, level: FloatArray) -> FloatArray:
    """Cost for each way to set the clock and each guess, (T, H)."""
    expected = known.log_rpm[:, None] - level
    guesses = np.zeros(level.shape[1], dtype=np.int64)
    return np.array([cheapest(known, expected, guesses + t) for t in range(known.off_time.shape[0])])


def _best_clocks(total: FloatArray) -> list[int]:
    left, best = total.copy(), []
    while len(best) < _CLOCKS and np.isfinite(left).any():
        best.append(int(np.argmin(left)))
        left[max(best[-1] - _CLOCKS_APART, 0) : best[-1] + _CLOCKS_APART + 1] = np.inf
    return best


def _together(
    known: Pairing, gears: IntArray, alone: dict[int, tuple[FloatArray, FloatArray]], clock: int
) -> Guesses:
    """Put the gears together one after the other and keep what costs least."""
    kept = np.empty((0, 1))
    cost = np.zeros(1)
    for n, gear in enumerate(gears):
        level, own = alone[int(gear)]
        level = level[np.argsort(own[clock], kind="stable")[:_KEPT_OF_ONE]]
        tried = np.vstack([np.repeat(kept, level.size, axis=1), np.tile(level, kept.shape[1])[None, :]])
        tried = tried[:, _in_order(gears[: n + 1], tried)]
        cost = _cost(known, gears[: n + 1], tried, clock)
        best = np.argsort(cost, kind="stable")[:_KEPT]
        kept, cost = tried[:, best], cost[best]
    place = np.argmax(known.gear[:, None] == gears, axis=1)
    if kept.shape[1]:
        kept = np.hstack([kept, _with_one_moved(kept[:, :1], gears, alone)])
    return _paid(known, kept[place], np.full(kept.shape[1], clock))


def _in_order(gears: IntArray, level: FloatArray) -> NDArray[np.bool_]:
    """Whether the gear that came last lies among the others as gears do."""
    up = gears[-1] - gears[:-1, None]
    down = (level[:-1] - level[-1]) * np.sign(up)
    fits: NDArray[np.bool_] = np.all((down >= _LEAST_STEP * np.abs(up)) & (down <= _MOST_STEP * np.abs(up)), axis=0)
    return fits


def _cost(known: Pairing, gears: IntArray, level: FloatArray, clock: int) -> FloatArray:
    part = known.of_rows(np.isin(known.gear, gears))
    place = np.argmax(part.gear[:, None] == gears, axis=1)
    return cheapest(part, part.log_rpm[:, None] - level[place], np.full(level.shape[1], clock))


def _with_one_moved(
    best: FloatArray, gears: IntArray, alone: dict[int, tuple[FloatArray, FloatArray]]
) -> FloatArray:
    """The best guess with each gear in turn anywhere else in order."""
    moved = []
    for n, gear in enumerate(gears):
        level = alone[int(gear)][0]
        tried = np.repeat(best, level.size, axis=1)
        tried[n] = level
        order = np.append(np.delete(np.arange(gears.size), n), n)
        moved.append(tried[:, _in_order(gears[order], tried[order])])
    return np.hstack(moved)


def _paid(known: Pairing, level: FloatArray, clock: IntArray) -> Guesses:
    """Add to each guess what its free gears cost; a gear is where the rows that found a plateau put it, else NaN."""
    plateau = matched(known, known.log_rpm[:, None] - level, clock)
    off = known.log_rpm[:, None] - known.log_speed[plateau]
    fitted = np.full(level.shape, np.nan)
    used = np.zeros(level.shape[1])
    for gear in np.unique(known.gear):
        rows = known.gear == gear
        found = (plateau[rows] >= 0).sum(axis=0)
        middle = np.sum(off[rows] * (plateau[rows] >= 0), axis=0) / np.fmax(found, 1)
        fitted[rows] = np.where(found > 0, middle, np.nan)
        used += found > 0
    known_level = np.where(np.isnan(fitted), level, fitted)
    cost = cheapest(known, known.log_rpm[:, None] - known_level, clock)
    return Guesses(fitted, clock, cost + FREE_GEAR * used)
