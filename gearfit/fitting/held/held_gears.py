"""Guesses of where the gears lie, and which of them the rows and plateaus of a ride leave standing.

With a ladder only its common shift is unknown. Without one each gear's k_g = ln(n/v) is: one that lays a row of the
gear upon a plateau. Gears are put together one after the other, the one with most rows first, and the guesses that cost
least are kept; higher gears have lower ratios. A free gear pays for its freedom: any plateau would suit its first row.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.held.held_rpm import Pairing, cheapest, matched
from gearfit.fitting.which_gear.ladder import Ladder

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Shifts searched around the expected one, and their step; around nothing expected, the reach is wide.
_REACH: Final = 0.30
_WIDE_REACH: Final = 0.9
_STEP: Final = 0.004
#: Steps between neighbouring gears from first to second up, ln ratio, their scatter from gearbox to gearbox, and the
#: least that is built (common practice, no source).
_STEPS: Final = np.array([0.36, 0.25, 0.18, 0.14, 0.11, 0.10, 0.09, 0.08, 0.08, 0.08, 0.08])
_STEP_SD: Final = 0.08
_LEAST_STEP: Final = 0.04
#: What the freedom of a gear costs: scatter of a row about its gear, against the range in which the gear may lie (that
#: of the first one is e^1.5).
_ROW_SD: Final = 0.0125
_FIRST_GEAR: Final = 3.8
#: Guesses of one gear, and of several together, that are kept; ways to set the clock that are followed up.
_KEPT_OF_ONE: Final = 60
_KEPT: Final = 150
_NEAR: Final = 500
_CLOCKS: Final = 3
#: Rounds in which the best guesses have each gear moved, and how many of them.
_ROUNDS: Final = 2
_MOVED: Final = 10
#: Usual gearboxes that are tried: how far the steps are spread, shifts, and the scatter allowed, ln ratio.
_SPREADS: Final = (0.7, 0.85, 1.0, 1.15, 1.3)
_USUAL_STEP: Final = 0.02
_LOOSE_SD: Final = 0.05
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
    left = total.copy()
    best: list[int] = []
    while len(best) < _CLOCKS and np.isfinite(left).any():
        best.append(int(np.argmin(left)))
        left[max(best[-1] - _CLOCKS_APART, 0) : best[-1] + _CLOCKS_APART + 1] = np.inf
    return best


def _together(known: Pairing, gears: IntArray, alone: dict[int, tuple[FloatArray, FloatArray]], clock: int) -> Guesses:
    """Put the gears together one after the other and keep what costs least."""
    kept = np.empty((0, 1))
    for n, gear in enumerate(gears):
        level, own = alone[int(gear)]
        level = level[np.argsort(own[clock], kind="stable")[:_KEPT_OF_ONE]]
        tried = np.vstack([np.repeat(kept, level.size, axis=1), np.tile(level, kept.shape[1])[None, :]])
        kept = _best_of(known, gears[: n + 1], tried, clock)
    kept = np.hstack([kept, _usual(known, gears, clock)])
    for _ in range(_ROUNDS):
        for n, gear in enumerate(gears):
            moved = _moved(kept[:, :_MOVED], n, alone[int(gear)][0])
            kept = _best_of(known, gears, np.hstack([kept, moved]), clock)
    kept = np.hstack([kept, *(_moved(kept[:, :1], n, alone[int(gear)][0]) for n, gear in enumerate(gears))])
    return _paid(known, gears, kept, clock)


def _best_of(known: Pairing, gears: IntArray, level: FloatArray, clock: int) -> FloatArray:
    """Return the cheapest guesses of some gears (G, H), drawn to their plateaus so that no two are one."""
    near = _cheapest_of(known, gears, level, clock, _NEAR)
    drawn, _ = _drawn(known.of_rows(np.isin(known.gear, gears)), gears, near, clock)
    return _cheapest_of(known, gears, np.round(drawn, 6), clock, _KEPT)


def _moved(level: FloatArray, n: int, places: FloatArray) -> FloatArray:
    """Guesses with the n-th gear put into each of some places."""
    tried = np.repeat(level, places.size, axis=1)
    tried[n] = np.tile(places, level.shape[1])
    return tried


def _cheapest_of(known: Pairing, gears: IntArray, level: FloatArray, clock: int, count: int) -> FloatArray:
    """So many of the guesses of some gears (G, H) as cost least, each once, cheapest first."""
    level = np.unique(level, axis=1)
    order = np.argsort(gears)
    freedom = _freedom(gears[order], level[order])
    level, freedom = level[:, np.isfinite(freedom)], freedom[np.isfinite(freedom)]
    part = known.of_rows(np.isin(known.gear, gears))
    place = np.argmax(part.gear[:, None] == gears, axis=1)
    cost = cheapest(part, part.log_rpm[:, None] - level[place], np.full(level.shape[1], clock)) + freedom
    return level[:, np.argsort(cost, kind="stable")[:count]]


def _freedom(gears: IntArray, level: FloatArray) -> FloatArray:
    """Cost of gears in ascending order that lie at (G, H), NaN not at all: infinite where they are no gears."""
    cost = np.zeros(level.shape[1])
    below, last = np.full(level.shape[1], np.nan), np.zeros(level.shape[1], dtype=np.int64)
    for gear, here in zip(gears, level, strict=True):
        first, used = np.isnan(below), ~np.isnan(here)
        steps = np.cumsum(np.append(0.0, _STEPS))
        usual, count = steps[gear - 1] - steps[np.fmax(last, 1) - 1], np.fmax(gear - last, 1)
        step = below - here
        sd = _STEP_SD * count**0.5
        pays = 0.5 * ((step - usual) / sd) ** 2 + np.log(sd / _ROW_SD)
        pays = np.where(first, _FIRST_GEAR, np.where(step < _LEAST_STEP * count, np.inf, pays))
        cost += np.where(used, pays, 0.0)
        below, last = np.where(used, here, below), np.where(used, gear, last)
    return cost


def _usual(known: Pairing, gears: IntArray, clock: int) -> FloatArray:
    """Gearboxes as they are usually built, laid over the plateaus (G, H) and drawn to those near by."""
    steps = np.cumsum(np.append(0.0, _STEPS))[gears - 1]
    spread, shift = np.meshgrid(_SPREADS, np.arange(-_WIDE_REACH, _WIDE_REACH, _USUAL_STEP))
    level = -steps[:, None] * spread.ravel() + shift.ravel()
    place = np.argmax(known.gear[:, None] == gears, axis=1)
    level += np.median(known.log_rpm + steps[place]) - np.median(known.log_speed)
    loose = replace(known, sd=np.hypot(known.sd, _LOOSE_SD))
    level = _cheapest_of(loose, gears, level, clock, _KEPT)
    for near in (loose, known):
        level = _drawn(near, gears, level, clock)[0]
    return level


def _drawn(known: Pairing, gears: IntArray, level: FloatArray, clock: int) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Put gears (G, H) where the rows that found a plateau put them; which gears have such rows."""
    level_of_row = level[np.argmax(known.gear[:, None] == gears, axis=1)]
    plateau = matched(known, known.log_rpm[:, None] - level_of_row, np.full(level.shape[1], clock))
    off = known.log_rpm[:, None] - known.log_speed[plateau]
    lies, found = level.copy(), np.zeros(level.shape, dtype=np.int64)
    for n, gear in enumerate(gears):
        rows = known.gear == gear
        found[n] = (plateau[rows] >= 0).sum(axis=0)
        middle = np.sum(off[rows] * (plateau[rows] >= 0), axis=0) / np.fmax(found[n], 1)
        lies[n] = np.where(found[n] > 0, middle, level[n])
    return lies, found > 0


def _paid(known: Pairing, gears: IntArray, level: FloatArray, clock: int) -> Guesses:
    """Guesses drawn to their plateaus, gears without any NaN, at the cost of their rows and of what free gears cost."""
    lies, used = _drawn(known, gears, level, clock)
    place = np.argmax(known.gear[:, None] == gears, axis=1)
    clocks = np.full(level.shape[1], clock)
    order = np.argsort(gears)
    freedom = _freedom(gears[order], np.where(used, lies, np.nan)[order])
    cost = cheapest(known, known.log_rpm[:, None] - lies[place], clocks) + freedom
    return Guesses(np.where(used, lies, np.nan)[place], clocks, cost)
