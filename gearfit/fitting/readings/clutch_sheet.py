"""The same question as `clutch`, of a sheet: whether its rows at high load are ahead of those at light load.

Readings are held, so the thrust is the road load. The slip is one of the errors that all rows of a setup may have alike
(`common_errors`), so it is weighed against wrong teeth, misread rows and offsets of the readings, and the scatter found
beside it is without it. A tachometer that shows too much at the top of its scale does the same in every gear, which a
slip in the upper ones does not explain.
"""

from __future__ import annotations

import numpy as np

from gearfit.fitting.ratios.clutch import LEAST_SLIP, Slip
from gearfit.fitting.readings.sheet import SheetFit


def sheet_slip(fit: SheetFit) -> Slip | None:
    """Return what slips under load in a setup's sheets; None where nothing does, or nothing can be said."""
    ahead = fit.slip >= LEAST_SLIP
    if not ahead.any():
        return None
    gears = tuple(int(gear) for gear in np.unique(fit.gear[ahead]))
    slips = fit.slip[ahead]
    return Slip(gears, int(ahead.sum()), int(np.sum(fit.slip > 0)), float(np.median(slips)), float(np.max(slips)))
