"""The fit of hand-entered samples: every row is a measurement by itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.known_ladder import fit_shift
from gearfit.fitting.ladder import Ladder
from gearfit.fitting.levels import STATED_DOF, Levels, pool
from gearfit.fitting.quantiles import family_limit
from gearfit.fitting.streams import Sheet

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Rows without a gear are one gear while neighbours (sorted) differ by less than this in ln ratio.
_SAME_GEAR: Final = 0.04
#: A row without a stated gear belongs to no gear beyond this distance, ln ratio.
_REACH: Final = 0.06


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
        False for rows without gear and for rows set aside as out of line.
    odd : tuple of Odd
        Rows out of line with the readings beside them in the same gear (set aside).
    levels : Levels or None
        Labels are gear numbers.
    """

    gear: IntArray
    log_ratio: FloatArray
    used: NDArray[np.bool_]
    odd: tuple[Odd, ...]
    levels: Levels | None


def fit_sheet(sheet: Sheet, ladder: Ladder | None, centres: FloatArray | None) -> SheetFit:
    """Fit hand-entered samples.

    Parameters
    ----------
    sheet : Sheet
        Readings of one setup; may be empty.
    ladder : Ladder or None
        Known gears.
    centres : (G,) float or None
        ln(n/v) of the gears where a timed log of the same setup has shown them.
    """
    log_ratio = np.log(sheet.engine_rpm / sheet.speed_mps)
    variance = (sheet.speed_sd_mps / sheet.speed_mps) ** 2 + (sheet.rpm_sd_rpm / sheet.engine_rpm) ** 2
    gear = _gears(sheet, log_ratio, variance, ladder, centres)
    used = gear > 0
    odd = _out_of_line(gear, log_ratio, variance)
    for row in odd:
        used[row.position] = False
    if not used.any():
        return SheetFit(gear, log_ratio, used, odd, None)
    own = variance[used] * _alike(np.column_stack([gear, sheet.engine_rpm, sheet.speed_mps])[used])
    levels = pool(log_ratio[used], own, gear[used], np.ones(int(used.sum()), dtype=np.int64))
    return SheetFit(gear, log_ratio, used, odd, levels)


def _gears(
    sheet: Sheet, log_ratio: FloatArray, variance: FloatArray, ladder: Ladder | None, centres: FloatArray | None
) -> IntArray:
    stated = np.nan_to_num(sheet.stated_gear).astype(np.int64)
    unstated = np.flatnonzero(stated == 0)
    if unstated.size == 0:
        return stated
    if centres is None and ladder is not None:
        shift = fit_shift(
            log_ratio,
            np.sqrt(variance),
            np.ones(log_ratio.size),
            ladder.log_ratio,
            ladder.expected_shift,
            ladder.shift_sd,
        )
        centres = ladder.log_ratio + shift.shift
    if centres is None and unstated.size == log_ratio.size:
        return _clusters(log_ratio)
    if centres is None:
        return stated
    distance = np.abs(log_ratio[unstated, None] - centres[None, :])
    nearest = np.argmin(distance, axis=1)
    stated[unstated] = np.where(distance[np.arange(unstated.size), nearest] < _REACH, nearest + 1, 0)
    return stated


def _alike(readings: FloatArray) -> IntArray:
    """Count how often each row stands in the sheet: the same number read again was rounded the same way."""
    _, member, count = np.unique(readings, axis=0, return_inverse=True, return_counts=True)
    return np.asarray(count[member.ravel()], dtype=np.int64)


def _clusters(log_ratio: FloatArray) -> IntArray:
    """Give gears numbers from the gaps between sorted rows, first gear (highest engine speed per speed) first."""
    order = np.argsort(-log_ratio)
    number = 1 + np.cumsum(np.diff(-log_ratio[order], prepend=-log_ratio[order[0]]) > _SAME_GEAR)
    gear = np.empty(log_ratio.size, dtype=np.int64)
    gear[order] = number
    return gear


def _out_of_line(gear: IntArray, log_ratio: FloatArray, variance: FloatArray) -> tuple[Odd, ...]:
    """Rows that differ from the median of at least two others in their gear by more than chance over all rows."""
    limit = family_limit(log_ratio.size, STATED_DOF)
    found: list[Odd] = []
    for g in np.unique(gear[gear > 0]):
        rows = list(np.flatnonzero(gear == g))
        while len(rows) >= 3:
            scores = []
            for i in rows:
                others = [j for j in rows if j != i]
                middle = float(np.median(log_ratio[others]))
                error = float(np.sqrt(variance[i] + np.pi / 2 * np.mean(variance[others]) / len(others)))
                scores.append((abs(log_ratio[i] - middle) / error, i, middle))
            z, worst, middle = max(scores)
            if z <= limit:
                break
            found.append(Odd(int(worst), middle, z))
            rows.remove(worst)
    return tuple(sorted(found, key=lambda row: row.position))
