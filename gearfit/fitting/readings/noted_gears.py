"""Rows noted under a wrong gear: beyond scatter away from the other rows of that gear, and where a neighbour lies.

What the other readings lead one to expect of a row is the posterior of a linear model without that row,

    y = a_g + b_s + e,      steps a_g - a_(g+1) and moves b_s with the priors below,     (17g) of docs/method.md

for every gear g of its setup s. The gear that was noted is weighed against the ones beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from gearfit.fitting.readings.row_scatter import USUAL_SCATTER
from gearfit.fitting.readings.sheet import Odd, SheetFit
from gearfit.fitting.which_gear.numbering import UNSTATED_SD, Numbering, Unplaced, number

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Share of rows that are noted one gear too high, and too low, beforehand (our assumption).
_WRONG_SHARE: Final = 0.01
#: Share of rows that are misread in another way, and over what range of ln ratio: half to thrice (our assumption).
_MISREAD_SHARE, _MISREAD = 0.02, 1.8
#: Beyond so many standard errors a reading says nothing of the other ones (ours).
_FAR: Final = 3.5
#: Scatter of a reading, ln ratio, at the least: that of most riders; more where the median residual is larger.
_SCATTER: Final = USUAL_SCATTER
_MEDIAN_OF_NORMAL: Final = 0.6745
#: Steps between gears, ln ratio: sd about a stated one; mean and sd of an unknown one (common practice, no source).
_STATED_SD: Final = 0.05
_UNKNOWN_STEP, _UNKNOWN_SD = 0.22, 0.15
#: The place of all gears is known from the readings alone, ln ratio.
_ANYWHERE_SD: Final = 10.0
#: A neighbour whose level is known worse than this, ln ratio, cannot be told from the gear itself.
_KNOWN: Final = 0.08
#: Other readings of its gear that a row must contradict, each as often as it was noted: against one alone either may
#: be at fault.
_OTHERS: Final = 2
#: Where more of the readings look noted wrong (and more than one), it is no slip of the pen (ours).
_MOST: Final = 0.1
#: Densities below this are no smaller: nobody knows the tails.
_FLOOR: Final = 1e-12


@dataclass(frozen=True)
class Misnoted:
    """A row of a sheet that was noted under a wrong gear, it seems.

    Attributes
    ----------
    position : int
        Which of the setup's readings.
    noted, lies_in : int
        The gear that was noted, and the one where the row lies.
    expected_log_ratio : float
        What would fit the noted gear.
    z : float
        How many standard errors away from that it is.
    """

    position: int
    noted: int
    lies_in: int
    expected_log_ratio: float
    z: float


@dataclass(frozen=True, eq=False)
class _Noted:
    """Different readings with a gear, of all setups; `by_hand` are rows of sheets, noted so often the same."""

    setup: IntArray
    gear: IntArray
    log_ratio: FloatArray
    sd: FloatArray
    by_hand: NDArray[np.bool_]
    repeats: IntArray

    def without(self, one: int) -> _Noted:
        return _Noted(*(np.delete(getattr(self, name), one) for name in self.__annotations__))


def misnoted(setups: Sequence[Unplaced], rows: Sequence[int]) -> list[tuple[Misnoted, ...]]:
    """Find the rows that were noted under a wrong gear.

    Parameters
    ----------
    setups : sequence of Unplaced
        Readings of each setup with the gears that were noted, rows of sheets first.
    rows : sequence of int
        How many rows of sheets each has.
    """
    noted = _noted(setups, rows)
    found: list[list[Misnoted]] = [[] for _ in setups]
    most, times = max(1, int(_MOST * np.count_nonzero(noted.by_hand))), 0
    while (worst := _worst(noted, setups)) is not None:
        one, wrong = worst
        k = int(noted.setup[one])
        if wrong is not None:
            times += 1
            found[k] += [replace(wrong, position=p) for p in _alike(setups[k], rows[k], noted, one)]
        noted = noted.without(one)
    return [tuple(each) if times <= most else () for each in found]


def numbered(unplaced: Sequence[Unplaced], wrong: Sequence[tuple[Misnoted, ...]]) -> list[Numbering]:
    """Give the readings of all setups their gears, but none to those that were noted under a wrong one."""
    kept = [np.delete(np.arange(s.gear.size), [m.position for m in w]) for s, w in zip(unplaced, wrong, strict=True)]
    parts = [
        replace(s, log_ratio=s.log_ratio[k], sd=s.sd[k], gear=s.gear[k]) for s, k in zip(unplaced, kept, strict=True)
    ]
    numbers = []
    for s, k, found in zip(unplaced, kept, number(parts), strict=True):
        gear = np.zeros(s.gear.size, dtype=np.int64)
        gear[k] = found.gear
        numbers.append(replace(found, gear=gear))
    return numbers


def with_misnoted(sheet: SheetFit, wrong: tuple[Misnoted, ...]) -> SheetFit:
    """Name the rows that were noted under a wrong gear among those out of line, in the gear that was noted."""
    gear = sheet.gear.copy()
    gear[[m.position for m in wrong]] = [m.noted for m in wrong]
    odd = [Odd(m.position, m.expected_log_ratio, m.z) for m in wrong]
    return replace(sheet, gear=gear, odd=(*sheet.odd, *odd))


def _alike(s: Unplaced, rows: int, noted: _Noted, one: int) -> list[int]:
    """Rows of a sheet that are the same as a reading."""
    alike = (s.gear == noted.gear[one]) & (s.log_ratio == noted.log_ratio[one]) & (s.sd == noted.sd[one])
    positions: list[int] = np.flatnonzero(alike[:rows]).tolist()
    return positions


def _noted(setups: Sequence[Unplaced], rows: Sequence[int]) -> _Noted:
    """Put the readings with a gear together, the same number written twice as one."""
    columns = []
    for k, (s, n) in enumerate(zip(setups, rows, strict=True)):
        by_hand = np.arange(s.gear.size) < n
        columns.append(np.column_stack([np.full(s.gear.size, k), s.gear, s.log_ratio, s.sd, by_hand])[s.gear > 0])
    table, repeats = np.unique(np.concatenate(columns), axis=0, return_counts=True)
    setup, gear = table[:, 0].astype(np.int64), table[:, 1].astype(np.int64)
    return _Noted(setup, gear, table[:, 2], table[:, 3], table[:, 4] > 0, repeats)


def _worst(noted: _Noted, setups: Sequence[Unplaced]) -> tuple[int, Misnoted | None] | None:
    """Return the reading that lies farthest from its gear, and what it says where it lies at the gear beside.

    None where none lies far. One that lies elsewhere is only taken away, so that it does not accuse the others.
    """
    if noted.gear.size <= _OTHERS:
        return None
    gears = int(noted.gear.max()) + 1
    prior = _prior(setups, gears)
    scatter = _scatter(noted, prior, gears)
    found: list[tuple[float, int, Misnoted | None]] = []
    for i in np.flatnonzero(noted.by_hand).tolist():
        others = int(noted.repeats[noted.gear == noted.gear[i]].sum() - noted.repeats[i])
        mean, sd = _expected(noted, prior, scatter, gears, i)
        z, wrong = _weighed(noted, i, mean, np.hypot(sd, scatter))
        if others and (z > _FAR or (wrong is not None and others >= _OTHERS)):
            found.append((z, i, wrong if others >= _OTHERS else None))
    worst = max(found, key=lambda entry: entry[0], default=None)
    return None if worst is None else worst[1:]


def _weighed(noted: _Noted, i: int, mean: FloatArray, sd: FloatArray) -> tuple[float, Misnoted | None]:
    """Return how many standard errors a reading lies from its gear, and where it belongs if likelier beside."""
    own, value, reading_sd = int(noted.gear[i]) - 1, float(noted.log_ratio[i]), float(noted.sd[i])
    z = abs(value - float(mean[own])) / float(np.hypot(sd[own], reading_sd))
    density = _density(value, reading_sd, mean, sd)
    beside = [g for g in (own - 1, own + 1) if 0 <= g < mean.size and sd[g] < _KNOWN]
    if not beside:
        return z, None
    at = max(beside, key=lambda g: float(density[g]))
    # the same slip again with every repeat
    if _WRONG_SHARE ** noted.repeats[i] * density[at] < max(density[own], _MISREAD_SHARE / _MISREAD):
        return z, None
    return z, Misnoted(-1, own + 1, at + 1, float(mean[own]), z)


def _prior(setups: Sequence[Unplaced], gears: int) -> tuple[FloatArray, FloatArray]:
    """Return precision matrix, and that times mean, of the gears' levels a (`gears`) and the moves b (setups)."""
    lines, means, sds = [], [], []
    steps = next(
        (-np.diff(s.ladder) for s in setups if s.ladder is not None and s.ladder.size >= gears - 1), np.empty(0)
    )
    for g in range(gears - 1):
        known = g < steps.size
        lines.append(_line(gears + len(setups), {g: 1.0, g + 1: -1.0}))
        means.append(float(steps[g]) if known else _UNKNOWN_STEP)
        sds.append(_STATED_SD if known else _UNKNOWN_SD)
    for k, s in enumerate(setups):
        lines.append(_line(gears + len(setups), {gears + k: 1.0}))
        means.append(0.0 if s.log_change is None else -s.log_change)
        sds.append(UNSTATED_SD)
    lines.append(_line(gears + len(setups), {0: 1.0}))
    means.append(0.0)
    sds.append(_ANYWHERE_SD)
    scaled = np.array(lines) / np.array(sds)[:, None]
    return scaled.T @ scaled, scaled.T @ (np.array(means) / np.array(sds))


def _line(size: int, entries: dict[int, float]) -> FloatArray:
    line = np.zeros(size)
    line[list(entries)] = list(entries.values())
    return line


def _design(setup: IntArray, gear: IntArray, gears: int, size: int) -> FloatArray:
    rows = np.zeros((gear.size, size))
    at = np.arange(gear.size)
    rows[at, gear - 1] = 1.0
    rows[at, gears + setup] = 1.0
    return rows


def _expected(
    noted: _Noted, prior: tuple[FloatArray, FloatArray], scatter: float, gears: int, one: int | None
) -> tuple[FloatArray, FloatArray]:
    """Return mean and sd of the level of every gear in the setup of a reading, without it; of all readings for None."""
    precision, pull = prior
    size = pull.size
    design = _design(noted.setup, noted.gear, gears, size)
    weight = 1 / (noted.sd**2 + scatter**2)
    if one is not None:
        weight[one] = 0.0
        setup = np.full(gears, noted.setup[one])
        asked = _design(setup, np.arange(1, gears + 1), gears, size)
    else:
        asked = design
    covariance = np.linalg.inv(precision + design.T @ (weight[:, None] * design))
    mean = asked @ (covariance @ (pull + design.T @ (weight * noted.log_ratio)))
    return mean, np.sqrt(np.einsum("ij,jk,ik->i", asked, covariance, asked))


def _scatter(noted: _Noted, prior: tuple[FloatArray, FloatArray], gears: int) -> float:
    """Widen the usual scatter to what the median residual shows."""
    mean, _ = _expected(noted, prior, _SCATTER, gears, None)
    z = np.abs(noted.log_ratio - mean) / np.hypot(noted.sd, _SCATTER)
    return _SCATTER * max(1.0, float(np.median(z)) / _MEDIAN_OF_NORMAL)


def _density(value: float, reading_sd: float, mean: FloatArray, sd: FloatArray) -> FloatArray:
    """Density of a value that was rounded (uniform error of that sd) about normal expectations."""
    half = max(float(np.sqrt(3.0)) * reading_sd, 1e-4)
    inside = ndtr((value + half - mean) / sd) - ndtr((value - half - mean) / sd)
    density: FloatArray = np.maximum(inside / (2 * half), _FLOOR)
    return density
