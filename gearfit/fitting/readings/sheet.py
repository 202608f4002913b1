"""The fit of hand-entered samples of all setups together: every row is a measurement by itself.

How far they scatter is the rider's own and shows only in all of them: rows of one gear agree, gears agree with the
tooth counts, and all gears move by one factor from setup to setup. A row that disagrees with the rest is excluded and
named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.material import Sheet
from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.readings.common_errors import SLIP, CommonError, column, possible
from gearfit.fitting.readings.gear_levels import in_cells, levels_over, scatter_of
from gearfit.fitting.readings.reading import Readings
from gearfit.fitting.readings.search import Found, search
from gearfit.fitting.readings.steps import find_steps, instrument_groups, read_to_five, usual_steps
from gearfit.fitting.which_gear.ladder import Ladder

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Odd:
    """A row that does not agree with the other readings; `expected_log_ratio` is what they lead one to expect."""

    position: int
    expected_log_ratio: float
    z: float


@dataclass(frozen=True, eq=False)
class SheetFit:
    """Fit of a setup's sheets.

    Attributes
    ----------
    gear : (n,) int
        Gear number of each row, 0 where none.
    log_ratio : (n,) float
    used : (n,) bool
        False for rows without gear and for rows excluded as out of line.
    odd : tuple of Odd
        Rows out of line with the other readings (excluded).
    levels : Levels or None
        Labels are gear numbers.
    scatter : float or None
        Standard deviation of ln(n/v) from reading to reading beyond reading errors, as all setups' readings show it.
    common : CommonError or None
        What all rows have alike, taken out of log_ratio and levels.
    slip : (n,) float
        How far the engine ran ahead of the road in each row, of that; 0 where no slip was found.
    """

    gear: IntArray
    log_ratio: FloatArray
    used: NDArray[np.bool_]
    odd: tuple[Odd, ...]
    levels: Levels | None
    scatter: float | None
    common: CommonError | None
    slip: FloatArray


@dataclass(frozen=True, eq=False)
class Placed:
    """Readings of one setup, each with its gear.

    Attributes
    ----------
    sheet : Sheet
        The readings.
    indicated : (n,) bool
        Whether the speed is what the speedometer showed.
    gear : (n,) int
        0 where none.
    ladder : Ladder or None
        Tooth counts of the setup.
    timed : Levels or None
        What timed logs of the setup have shown.
    """

    sheet: Sheet
    indicated: NDArray[np.bool_]
    gear: IntArray
    ladder: Ladder | None
    timed: Levels | None


def fit_sheets(setups: Sequence[Placed]) -> list[SheetFit]:
    """Fit the hand-entered samples of all setups of a machine."""
    readings = read_to_five(_readings(setups))
    if not readings.held.any():
        return [_nothing(placed) for placed in setups]
    group = instrument_groups(readings)
    first = search(readings, group, usual_steps(readings, group), [])
    steps = find_steps(readings, group, first.odd.columns, with_teeth=first.with_teeth)
    return _shared_out(setups, search(readings, group, steps, possible(readings)))


def _readings(setups: Sequence[Placed]) -> Readings:
    """Put the readings of all setups that have a gear one below the other, and the levels of timed logs with them."""
    parts = [part for i, placed in enumerate(setups) for part in (_by_hand(i, placed), _timed(i, placed))]
    return Readings(**{name: np.concatenate([getattr(p, name) for p in parts]) for name in Readings.__annotations__})


def _by_hand(setup: int, placed: Placed) -> Readings:
    sheet = placed.sheet
    first, _, repeats = _distinct(placed)
    gear = placed.gear[first]
    return Readings(
        setup=np.full(gear.size, setup),
        gear=gear,
        speed_mps=sheet.speed_mps[first],
        speed_sd_mps=sheet.speed_sd_mps[first],
        speed_step_mps=sheet.speed_step_mps[first],
        engine_rpm=sheet.engine_rpm[first],
        rpm_sd_rpm=sheet.rpm_sd_rpm[first],
        rpm_step_rpm=sheet.rpm_step_rpm[first],
        indicated=placed.indicated[first],
        stated=_stated(placed.ladder, gear),
        known_sd=np.full(gear.size, np.nan),
        repeats=repeats.astype(np.float64),
    )


def _distinct(placed: Placed) -> tuple[IntArray, IntArray, IntArray]:
    """Return the first row of each distinct reading with a gear, each row's reading (-1: none), and their counts."""
    rows = np.flatnonzero(placed.gear > 0)
    sheet = placed.sheet
    numbers = (placed.gear, sheet.engine_rpm, sheet.speed_mps, sheet.speed_sd_mps, sheet.rpm_sd_rpm)
    alike = np.column_stack([column[rows] for column in numbers])
    _, first, member, count = np.unique(alike, axis=0, return_index=True, return_inverse=True, return_counts=True)
    reading = np.full(placed.gear.size, -1, dtype=np.int64)
    reading[rows] = member.ravel()
    return rows[first], reading, count


def _timed(setup: int, placed: Placed) -> Readings:
    """Take the levels of timed logs as readings of which the error is known."""
    levels = placed.timed
    gear = levels.gear if levels is not None else np.empty(0, dtype=np.int64)
    nothing = np.full(gear.size, np.nan)
    return Readings(
        setup=np.full(gear.size, setup),
        gear=gear,
        speed_mps=np.ones(gear.size),
        speed_sd_mps=nothing,
        speed_step_mps=nothing,
        engine_rpm=np.exp(levels.log_ratio) if levels is not None else np.empty(0),
        rpm_sd_rpm=nothing,
        rpm_step_rpm=nothing,
        indicated=np.zeros(gear.size, dtype=bool),
        stated=_stated(placed.ladder, gear),
        known_sd=np.sqrt(np.diag(levels.covariance)) if levels is not None else np.empty(0),
        repeats=np.zeros(gear.size),
    )


def _stated(ladder: Ladder | None, gear: IntArray) -> FloatArray:
    stated = np.full(gear.size, np.nan)
    if ladder is not None and ladder.origin == "tooth counts":
        known = gear <= ladder.log_ratio.size
        stated[known] = ladder.log_ratio[gear[known] - 1]
    return stated


def _shared_out(setups: Sequence[Placed], found: Found) -> list[SheetFit]:
    """Give each setup its rows, its odd ones and its levels."""
    readings, read, odd, row_of = found.readings, found.read, found.odd, found.row_of
    values = read.values
    wrong = {
        int(row_of[name]): Odd(-1, float(values[row_of[name]] - amount), t)
        for name, twins, amount, t in zip(odd.names, odd.twins, odd.amount, odd.t, strict=True)
        if row_of[name] >= 0 and all(row_of[twin] < 0 for twin in twins)
    }
    doubted = {int(row_of[name]) for name in odd.names if row_of[name] >= 0}
    every = np.arange(readings.gear.size)
    sure = in_cells(readings, read, found.shared, every[~np.isin(every, list(doubted))])
    places = np.array([name for name in odd.names if row_of[name] < 0], dtype=np.int64)
    beside = odd.columns[:, np.isin(odd.names, places)]
    known = scatter_of(readings, sure, beside, with_teeth=found.with_teeth)
    cells = (
        sure if doubted == set(wrong) else in_cells(readings, read, found.shared, every[~np.isin(every, list(wrong))])
    )
    fits = []
    for i, placed in enumerate(setups):
        own = np.flatnonzero((readings.setup == i) & readings.held)
        _, reading, _ = _distinct(placed)
        rows = np.flatnonzero(reading >= 0)
        of_row = own[reading[rows]]
        named = tuple(replace(wrong[int(r)], position=int(p)) for p, r in zip(rows, of_row, strict=True) if r in wrong)
        used = placed.gear > 0
        used[[o.position for o in named]] = False
        with np.errstate(divide="ignore", invalid="ignore"):
            log_ratio = np.log(placed.sheet.engine_rpm / placed.sheet.speed_mps)
        log_ratio[rows] = values[of_row]
        which = np.flatnonzero(np.isin(cells.first, own))
        error = found.common if found.common is not None and i in found.common.setups else None
        slip = np.zeros(placed.gear.size)
        if error is not None and error.kind == SLIP:
            slip[rows] = error.amount * column(readings, error)[of_row]
        levels = None
        if which.size:
            levels = levels_over(cells, which, readings.gear[cells.first[which]], known.posterior, known.dof)
        fits.append(SheetFit(placed.gear, log_ratio, used, named, levels, known.scatter, error, slip))
    return fits


def _nothing(placed: Placed) -> SheetFit:
    rows = placed.gear.size
    with np.errstate(divide="ignore", invalid="ignore"):
        log_ratio = np.log(placed.sheet.engine_rpm / placed.sheet.speed_mps)
    return SheetFit(placed.gear, log_ratio, np.zeros(rows, dtype=bool), (), None, None, None, np.zeros(rows))
