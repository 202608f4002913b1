"""The same question as `clutch`, of a sheet: whether its rows at high load are ahead of those at light load.

Readings are held, so the thrust is the road load. Each row at high load in the upper gears is held against the rows of
the same gear at light load, so the tooth counts do not enter. A tachometer that shows too much at the top of its scale
does the same in every gear: where the lowest gears, which turn as fast under little load, show it too, it is no slip.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.clutch import HIGH, LEAST_SLIP, LOWEST_GEAR, Slip
from gearfit.fitting.joint import thrust_per_mass
from gearfit.fitting.material import Sheet
from gearfit.fitting.sheet import SheetFit

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Load is light up to this share of the highest of the sheet: few rows, so more of them count than in a log (ours).
_LIGHT: Final = 0.5
#: Standard errors that a row is ahead by, rows that are, and standard errors by which none may be behind (ours).
_LEAST_Z: Final = 3.0
_LEAST_ROWS: Final = 2
_BEHIND_Z: Final = 2.0
#: Share of the slip that the lowest gears may show at the same engine speeds before the tachometer is the better guess.
_IN_LOW_GEARS: Final = 0.5


def sheet_slip(fit: SheetFit, sheet: Sheet) -> Slip | None:
    """Return what slips under load in a setup's sheets; None where nothing does, or nothing can be said.

    Parameters
    ----------
    fit : SheetFit
        Rows set aside as out of line are looked at as well.
    sheet : Sheet
        Its readings: road speeds, not what a speedometer showed.
    """
    if not (fit.gear > 0).any():
        return None
    torque = thrust_per_mass(0.0, sheet.speed_mps) * sheet.speed_mps / sheet.engine_rpm
    share = torque / torque[fit.gear > 0].max()
    variance = (
        (sheet.speed_sd_mps / sheet.speed_mps) ** 2
        + (sheet.rpm_sd_rpm / sheet.engine_rpm) ** 2
        + (fit.scatter or 0.0) ** 2
    )
    light = (fit.gear > 0) & (share <= _LIGHT)
    high = np.flatnonzero((fit.gear >= LOWEST_GEAR) & (share >= HIGH))
    rows = [(int(row), *_against(fit, variance, light & (fit.gear == fit.gear[row]), row)) for row in high]
    rows = [row for row in rows if np.isfinite(row[1])]
    ahead = [(row, slip) for row, slip, error in rows if slip >= LEAST_SLIP and slip >= _LEAST_Z * error]
    if len(ahead) < _LEAST_ROWS or any(slip <= -_BEHIND_Z * error for _, slip, error in rows):
        return None
    slips = np.array([slip for _, slip in ahead])
    fast_rpm = min(float(sheet.engine_rpm[row]) for row, _ in ahead)
    if _in_low_gears(fit, sheet, variance, light, fast_rpm) > _IN_LOW_GEARS * float(np.median(slips)):
        return None
    gears = tuple(sorted({int(fit.gear[row]) for row, _ in ahead}))
    return Slip(gears, len(ahead), len(rows), float(np.median(slips)), float(np.max(slips)))


def _against(fit: SheetFit, variance: FloatArray, beside: NDArray[np.bool_], row: np.int64) -> tuple[float, float]:
    """How far a row is ahead of others, and its standard error; NaN where there are none."""
    if not beside.any():
        return np.nan, np.nan
    weight = 1 / variance[beside]
    level = float(weight @ fit.log_ratio[beside] / weight.sum())
    return float(fit.log_ratio[row]) - level, float(np.sqrt(variance[row] + 1 / weight.sum()))


def _in_low_gears(
    fit: SheetFit, sheet: Sheet, variance: FloatArray, light: NDArray[np.bool_], fast_rpm: float
) -> float:
    """Mean lead at these engine speeds in the lowest gears at light load; 0 where they were not held there."""
    low = light & (fit.gear < LOWEST_GEAR)
    slow = low & (sheet.engine_rpm < fast_rpm)
    leads = [
        _against(fit, variance, slow & (fit.gear == fit.gear[row]), row)[0]
        for row in np.flatnonzero(low & (sheet.engine_rpm >= fast_rpm))
    ]
    known = [lead for lead in leads if np.isfinite(lead)]
    return float(np.mean(known)) if known else 0.0
