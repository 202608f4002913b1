"""The search for what does not belong among readings: rows, gears, and errors that all rows have alike."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.readings.common_errors import SLIP, CommonError, can_be, column, without
from gearfit.fitting.readings.reading import Read, Readings, SpeedSteps, by_setup_and_gear, corrected, shared_errors
from gearfit.fitting.readings.row_scatter import OddReadings, find_odd, fits_better, last_coefficient

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: Rounds in which an offset of the readings is found: it acts as 1 / v, and v is without it.
_ROUNDS: Final = 3


@dataclass(frozen=True, eq=False)
class Found:
    """What a search has found: the readings without the error that they have in common, and what is odd in them."""

    readings: Readings
    read: Read
    shared: FloatArray
    odd: OddReadings
    row_of: IntArray
    with_teeth: bool
    known: FloatArray
    common: CommonError | None


def search(readings: Readings, group: IntArray, steps: tuple[SpeedSteps, ...], errors: list[CommonError]) -> Found:
    """Find what does not belong; where that is an error common to all rows, take it out and search again."""
    candidates, row_of = _candidates(readings)
    columns = np.column_stack([candidates, *(column(readings, error) for error in errors)])
    one_sided = np.array([False] * row_of.size + [error.kind == SLIP for error in errors])
    found = _odd(readings, group, steps, (columns, one_sided), np.append(row_of, np.full(len(errors), -1)))
    at = next((i for i, name in enumerate(found.odd.names) if name >= row_of.size), None)
    if at is None:
        return found
    twins = sorted(k - row_of.size for k in (found.odd.names[at], *found.odd.twins[at]) if k >= row_of.size)
    near = [errors[k - row_of.size] for k in (found.odd.names[at], *found.odd.rivals[at]) if k >= row_of.size]
    for error in (errors[k] for k in twins):
        others = tuple((e.kind, e.setups) for e in near if e != error)
        taken_out = _taken_out(readings, group, steps, replace(error, rivals=others))
        if taken_out is not None:
            return taken_out
    return _odd(readings, group, steps, (candidates, np.zeros(row_of.size, dtype=bool)), row_of)


def _taken_out(readings: Readings, group: IntArray, steps: tuple[SpeedSteps, ...], error: CommonError) -> Found | None:
    """Take a common error out of the readings and search again; None where it cannot be."""
    candidates, row_of = _candidates(readings)
    for _ in range(_ROUNDS):
        left = without(readings, error)
        known = column(left, error)[:, None]
        found = _odd(left, group, steps, (candidates, np.zeros(row_of.size, dtype=bool)), row_of, known)
        read = found.read
        free = by_setup_and_gear(left, read.values, read.variance, found.shared, with_teeth=found.with_teeth)
        free = free.with_columns(found.odd.columns)
        model = free.with_columns(known)
        if model.dof == free.dof:
            return None
        amount, se = last_coefficient(model, found.odd.fit.scatter)
        error = replace(error, amount=amount + (0.0 if error.kind == SLIP else error.amount), error=se)
        if not can_be(error):
            return None
    return _without(found, error)


def _odd(
    readings: Readings,
    group: IntArray,
    steps: tuple[SpeedSteps, ...],
    candidates: tuple[FloatArray, BoolArray],
    row_of: IntArray,
    known: FloatArray | None = None,
) -> Found:
    """Search the candidates, with the tooth counts unless the readings fit better without them."""
    read, shared = corrected(readings, group, steps), shared_errors(readings, group, steps)
    known = np.empty((readings.gear.size, 0)) if known is None else known
    family = _candidates(readings)[1].size
    free, strict = (
        by_setup_and_gear(readings, read.values, read.variance, shared, with_teeth=teeth).with_columns(known)
        for teeth in (False, True)
    )
    odd, with_teeth = find_odd(free, *candidates, family), False
    if not np.isnan(readings.stated).all():
        found = find_odd(strict, *candidates, family)
        if not fits_better(free.with_columns(found.columns), strict.with_columns(found.columns)):
            odd, with_teeth = found, True
    return Found(readings, read, shared, odd, row_of, with_teeth, known, None)


def _without(found: Found, error: CommonError) -> Found:
    """Take a common error out of the levels, and count what is not known of it as an error that all rows share."""
    effect = column(found.readings, error)
    values = found.read.values - (error.amount * effect if error.kind == SLIP else 0.0)
    shared = np.column_stack([found.shared, error.error * effect])
    return replace(found, read=replace(found.read, values=values), shared=shared, common=error)


def _candidates(readings: Readings) -> tuple[FloatArray, IntArray]:
    """Return what may be wrong, a column each, and for columns that stand for one row that row (else -1).

    Rows; all rows of one gear in one setup (noted under a wrong gear); a gear whose stated ratio is wrong.
    """
    held = np.flatnonzero(readings.held)
    columns = [np.eye(readings.gear.size)[:, held]]
    row_of = [int(row) for row in held]
    places = [(readings.setup == s) & (readings.gear == g) for s in np.unique(readings.setup) for g in _gears(readings)]
    places += [readings.gear == g for g in _gears(readings)]
    for place in places:
        if np.count_nonzero(place & readings.held) > 1:
            columns.append(place[:, None].astype(np.float64))
            row_of.append(-1)
    return np.column_stack(columns), np.array(row_of, dtype=np.int64)


def _gears(readings: Readings) -> IntArray:
    return np.unique(readings.gear)
