"""Which gear a reading without a noted gear belongs to, decided for all setups of a machine together.

A ladder of gears (tooth counts, or what one setup shows by itself) is laid over each setup's readings with a shift of
its own, and the shifts of two setups differ by what the final drive did. Three things count together: how well the
readings lie on the ladder, where tyre and tooth counts expect it, and how large a change of gearing is stated or usual.
Where a second numbering fits nearly as well, the report says so and claims nothing that rests on the numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.which_gear.known_ladder import APART, log_likelihood

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: What two setups may differ by beside the stated teeth (another tyre, wear), and what where teeth are misstated, with
#: the shares of folders in which they are misstated or exchanged; without stated teeth one or two teeth in front, some
#: at the rear. Standard deviations of ln ratio, our assumptions.
_AS_STATED_SD: Final = 0.012
_MISSTATED_SD: Final = 0.08
_MISSTATED_SHARE: Final = 0.1
_EXCHANGED_SHARE: Final = 0.01
UNSTATED_SD: Final = 0.08
#: Where tyre and teeth expect the ladder: sd about it (tyre 2 %, tachometer 3 %), and the share of folders in which a
#: wrong entry moves it anywhere at all within `_ANYWHERE`, ln ratio.
_EXPECTED_SD: Final = 0.036
_ANYWHERE_SHARE: Final = 0.05
_ANYWHERE: Final = 3.0
#: Scatter of a reading while numberings are compared, ln ratio; step of the shifts, ln ratio; readings that one gear's
#: count for at the most, as they share errors; shifts compared in each setup. Our assumptions.
_SCATTER: Final = 0.015
_STEP: Final = 0.002
_PER_STEP: Final = 2.0
_PEAKS: Final = 8
#: Readings without a gear belong to none that is farther away than this, ln ratio, or this many standard errors (ours).
REACH: Final = 0.06
REACH_SD: Final = 3.0
#: Nor do readings with a larger reading error, ln ratio: upper gears stand about 0.1 apart (common practice).
COARSE: Final = 0.03
#: Where the readings show more steps than this they do not fall into gears: six is the most that is common (common
#: practice, no source), and one above.
_MOST_GEARS: Final = 7
#: Where the median step holds as many readings, a lone reading between steps is a misreading and no gear (ours).
_READINGS_OF_A_STEP: Final = 3
#: Sorted readings are one gear while neighbours differ by less than either, ln ratio and reading errors (ours).
SAME_GEAR: Final = 0.04
_SAME_GEAR_SD: Final = 3.5
#: Log of odds from which one numbering counts as sure (20 : 1).
SURE: Final = 3.0


@dataclass(frozen=True, eq=False)
class Unplaced:
    """What a setup shows of its gears.

    Attributes
    ----------
    log_ratio, sd : (n,) float
        Readings, or levels of steps that a timed log shows.
    gear : (n,) int
        Gear where noted, else 0.
    ladder : (G,) float or None
        ln of stated ratios.
    expected : float or None
        Shift of that ladder as tyre and teeth lead one to expect.
    log_change : float or None
        ln of the change of speed against the first setup that the teeth predict.
    """

    log_ratio: FloatArray
    sd: FloatArray
    gear: IntArray
    ladder: FloatArray | None
    expected: float | None
    log_change: float | None


@dataclass(frozen=True, eq=False)
class Numbering:
    """Gears of one setup.

    Attributes
    ----------
    gear : (n,) int
        Of each reading; 0 where none.
    shift : float
        Of the ladder that they were laid on.
    log_odds : float
        Of these numbers against the next best.
    change_log_odds : float
        Of the numbers next to those of the first setup, which is all that the change needs: both may be one too high.
    runner_up_percent : float or None
        By how many per cent the next best numbering lies elsewhere.
    """

    gear: IntArray
    shift: float
    log_odds: float
    change_log_odds: float
    runner_up_percent: float | None


def number(setups: Sequence[Unplaced]) -> list[Numbering]:
    """Give the readings of all setups their gears."""
    frame = _frame(setups)
    if frame is None and all(s.ladder is None for s in setups):
        return [Numbering(s.gear, 0.0, np.inf, np.inf, None) for s in setups]
    if all((s.gear > 0).all() for s in setups):
        return [Numbering(s.gear, 0.0, np.inf, np.inf, None) for s in setups]
    frame = np.empty(0) if frame is None else frame
    ladders = [s.ladder if s.ladder is not None else frame for s in setups]
    peaks = [_peaks(s, ladder, k == _lead(setups)) for k, (s, ladder) in enumerate(zip(setups, ladders, strict=True))]
    combined = _together(setups, peaks)
    best = max(combined, key=lambda entry: entry[0])
    found = []
    for k, (s, ladder) in enumerate(zip(setups, ladders, strict=True)):
        rivals = [e for e in combined if abs(e[1][k] - best[1][k]) > APART]
        apart = [e for e in combined if abs((e[1][k] - e[1][0]) - (best[1][k] - best[1][0])) > APART]
        second = max(rivals, key=lambda entry: entry[0], default=None)
        fixed = bool((s.gear > 0).any()) and s.ladder is None
        found.append(
            Numbering(
                gear=_placed(s, ladder + best[1][k]),
                shift=best[1][k],
                log_odds=np.inf if second is None or fixed else best[0] - second[0],
                change_log_odds=min(best[0] - max((e[0] for e in apart), default=-np.inf), _lone(setups, best[1], k)),
                runner_up_percent=None if second is None else 100 * float(np.expm1(abs(second[1][k] - best[1][k]))),
            )
        )
    return found


def clusters(log_ratio: FloatArray, sd: FloatArray) -> IntArray:
    """Count readings into steps by the gaps between them when sorted, highest ln(n/v) first, from 1."""
    if log_ratio.size == 0:
        return np.empty(0, dtype=np.int64)
    order = np.argsort(-log_ratio, kind="stable")
    gap = np.diff(-log_ratio[order], prepend=-log_ratio[order[0]])
    apart = gap > np.maximum(SAME_GEAR, _SAME_GEAR_SD * sd[order])
    step = np.empty(log_ratio.size, dtype=np.int64)
    step[order] = 1 + np.cumsum(apart)
    return step


def _steps(log_ratio: FloatArray, sd: FloatArray) -> IntArray:
    """Count the steps that readings show by themselves; 0 for a lone reading among steps of several."""
    found = clusters(log_ratio, sd)
    count = np.bincount(found)[found]
    if found.size and float(np.median(np.bincount(found)[1:])) >= _READINGS_OF_A_STEP:
        several = count > 1
        _, again = np.unique(found[several], return_inverse=True)
        found = np.zeros(found.size, dtype=np.int64)
        found[several] = again + 1
    return found


def _lead(setups: Sequence[Unplaced]) -> int:
    """Position of the setup that shows most gears by itself, those with noted gears first."""
    shown = [(bool((s.gear > 0).any()), np.unique(_own(s)).size) for s in setups]
    return max(range(len(setups)), key=lambda k: (shown[k], -k))


def _own(s: Unplaced) -> IntArray:
    """Gears of a setup by itself: as noted, else by gaps."""
    return s.gear[s.gear > 0] if (s.gear > 0).any() else _steps(s.log_ratio, s.sd)


def _frame(setups: Sequence[Unplaced]) -> FloatArray | None:
    """Ladder of the setup that shows most: position g - 1 holds gear g, steps between noted gears filled evenly."""
    lead = setups[_lead(setups)]
    if lead.log_ratio.size == 0:
        return None
    noted = lead.gear > 0
    gear = lead.gear[noted] if noted.any() else _steps(lead.log_ratio, lead.sd)
    values = lead.log_ratio[noted] if noted.any() else lead.log_ratio
    labels = np.unique(gear)
    labels = labels[labels > 0]
    if not noted.any() and (labels.size > _MOST_GEARS or float(np.median(lead.sd)) > COARSE):
        return None
    middle = np.array([float(np.median(values[gear == g])) for g in labels])
    if labels.size == 1:
        return np.concatenate([np.full(int(labels[0]) - 1, np.inf), middle])
    ladder = np.full(int(labels[-1]), np.inf)
    ladder[labels - 1] = middle
    return ladder


def _peaks(s: Unplaced, ladder: FloatArray, leads: bool) -> list[tuple[float, float]]:
    """Shifts (score, shift) at which a setup's readings lie best on a ladder."""
    steps = ladder[np.isfinite(ladder)]
    if leads and s.ladder is None:
        return [(0.0, 0.0)]
    if s.log_ratio.size == 0 or steps.size == 0:
        return [(0.0, s.expected if s.ladder is not None and s.expected is not None else 0.0)]
    low, high = float(s.log_ratio.min() - steps.max()) - 0.05, float(s.log_ratio.max() - steps.min()) + 0.05
    shifts = np.arange(low, high, _STEP)
    sd = np.hypot(s.sd, _SCATTER)
    free = s.gear == 0
    score = np.zeros(shifts.size)
    if free.any():
        score += log_likelihood(s.log_ratio[free], sd[free], _weight(s.log_ratio[free], s.sd[free]), steps, shifts)
    for value, error, gear in zip(s.log_ratio[~free], sd[~free], s.gear[~free], strict=True):
        if gear <= ladder.size and np.isfinite(ladder[gear - 1]):
            score += np.log(0.02 + np.exp(-0.5 * ((value - ladder[gear - 1] - shifts) / error) ** 2))
    if s.ladder is not None and s.expected is not None:
        near = np.exp(-0.5 * ((shifts - s.expected) / _EXPECTED_SD) ** 2) / (_EXPECTED_SD * np.sqrt(2 * np.pi))
        score += np.log((1 - _ANYWHERE_SHARE) * near + _ANYWHERE_SHARE / _ANYWHERE)
    inner = np.flatnonzero((score[1:-1] >= score[:-2]) & (score[1:-1] > score[2:])) + 1
    best = inner[np.argsort(-score[inner])][:_PEAKS] if inner.size else np.array([int(np.argmax(score))])
    return [(float(score[i]), float(shifts[i])) for i in best]


def _weight(log_ratio: FloatArray, sd: FloatArray) -> FloatArray:
    """Weigh each reading: those of one step share errors of reading, so together they count as two at the most."""
    step = clusters(log_ratio, sd)
    return np.minimum(1.0, _PER_STEP / np.bincount(step)[step])


def _together(
    setups: Sequence[Unplaced], peaks: Sequence[list[tuple[float, float]]]
) -> list[tuple[float, tuple[float, ...]]]:
    """Score the numberings of all setups together, each setup against the first."""
    combined: list[tuple[float, tuple[float, ...]]] = []
    for score, first in peaks[0]:
        options = [
            sorted(((p + _log_change(s, shift - first + _frames_apart(setups[0], s)), shift) for p, shift in own))[-3:]
            for s, own in zip(setups[1:], peaks[1:], strict=True)
        ]
        for chosen in product(*options):
            combined.append((score + sum(c[0] for c in chosen), (first, *(c[1] for c in chosen))))
    return combined


def _lone(setups: Sequence[Unplaced], shifts: tuple[float, ...], k: int) -> float:
    """Log of odds that the one step that a setup shows is a gear of the first setup, where no gear is noted or stated.

    It may be another one, with any change at all: density 1/2 over two units of ln ratio.
    """
    both = (setups[0], setups[k])
    known = any(s.ladder is not None for s in both) or all((s.gear > 0).all() for s in both)
    if k == 0 or known or min(np.unique(_own(s)).size for s in both) != 1:
        return np.inf
    return _log_change(setups[k], shifts[k] - shifts[0]) + float(np.log(2.0))


def _frames_apart(first: Unplaced, other: Unplaced) -> float:
    """How far stated ladders of two setups lie apart: nothing where both lie on one frame or hold the gearbox alone."""
    if first.ladder is None or other.ladder is None or first.ladder.size != other.ladder.size:
        return 0.0
    return float(np.mean(other.ladder - first.ladder))


def _log_change(s: Unplaced, moved: float) -> float:
    """Log density of a setup's levels lying `moved` above those of the first setup."""
    if s.log_change is None:
        return float(-0.5 * (moved / UNSTATED_SD) ** 2 - np.log(UNSTATED_SD * np.sqrt(2 * np.pi)))
    away = moved + s.log_change
    parts = (
        (1 - _MISSTATED_SHARE - _EXCHANGED_SHARE, away, _AS_STATED_SD),
        (_MISSTATED_SHARE, moved, _MISSTATED_SD),
        (_EXCHANGED_SHARE, moved - s.log_change, _AS_STATED_SD),
    )
    density = sum(share / sd * np.exp(-0.5 * (x / sd) ** 2) for share, x, sd in parts) / np.sqrt(2 * np.pi)
    return float(np.log(density + 1e-300))


def _placed(s: Unplaced, centres: FloatArray) -> IntArray:
    """Give readings without a noted gear the nearest one, unless the next nearest may be it as well."""
    gear = s.gear.copy()
    free = np.flatnonzero(gear == 0)
    if free.size == 0:
        return gear
    error = np.hypot(s.sd[free], _SCATTER)
    distance = np.abs(s.log_ratio[free, None] - centres[None, :])
    nearest = np.argmin(distance, axis=1)
    away = np.sort(np.column_stack([distance, np.full(free.size, np.inf)]), axis=1)
    with np.errstate(invalid="ignore"):
        log_odds = (away[:, 1] ** 2 - away[:, 0] ** 2) / (2 * error**2)
    near = (away[:, 0] < np.minimum(REACH, REACH_SD * error)) & (log_odds > SURE) & (s.sd[free] < COARSE)
    gear[free] = np.where(near, nearest + 1, 0)
    return gear
