"""How far each gear moved from one setup to the other, and all gears together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from gearfit.fitting.agreement import Agreement, common_level
from gearfit.fitting.levels import Levels
from gearfit.fitting.quantiles import family_limit, percent_change
from gearfit.results import Estimate, GearChange

#: What tyre temperature and pressure do between two rides on the same machine, ln ratio (our assumption, no source).
#: No number of samples reduces it; it counts wherever a change is held against a prediction.
RIDE_TO_RIDE_SD: Final = 0.0015


@dataclass(frozen=True, eq=False)
class Shift:
    """Change of road speed at the same engine speed, other setup against reference.

    Attributes
    ----------
    gears : tuple of GearChange
        Gears ridden in both setups.
    all_gears_percent : Estimate or None
        Of the gears that agree with each other; None where no gear was ridden in both.
    log_change, log_se, dof : float
        The same as ln of the factor (NaN where none).
    agreement : Agreement or None
        Which gears agree with each other.
    """

    gears: tuple[GearChange, ...]
    all_gears_percent: Estimate | None
    log_change: float
    log_se: float
    dof: float
    agreement: Agreement | None


def as_predicted(change: Estimate, predicted_percent: float) -> bool:
    """Tell whether a measured change agrees with a prediction, what two rides differ by anyway allowed for."""
    half = (change.hi95 - change.lo95) / 2
    return bool(abs(change.value - predicted_percent) <= np.hypot(half, 100 * 1.96 * RIDE_TO_RIDE_SD))


def shift(reference: Levels | None, other: Levels | None, predicted_percent: float | None) -> Shift:
    """Compare the levels of two setups.

    A gear is `consistent` when its change agrees with the prediction within the limit that all gears together
    exceed by chance in 1 % of cases (Sidak); without a prediction, when it agrees with the other gears.
    """
    if reference is None or other is None:
        return Shift((), None, np.nan, np.nan, np.nan, None)
    gears, at, to = np.intersect1d(reference.gear, other.gear, return_indices=True)
    if gears.size == 0:
        return Shift((), None, np.nan, np.nan, np.nan, None)
    change = reference.log_ratio[at] - other.log_ratio[to]
    covariance = reference.covariance[np.ix_(at, at)] + other.covariance[np.ix_(to, to)]
    dof = min(reference.dof, other.dof)
    agreement = common_level(change, covariance, dof)
    se = np.sqrt(np.diag(covariance))
    if predicted_percent is not None:
        allowed = family_limit(gears.size, dof) * np.hypot(se, RIDE_TO_RIDE_SD)
        consistent = np.abs(change - np.log1p(predicted_percent / 100)) <= allowed
    else:
        consistent = agreement.agrees
    judged = predicted_percent is not None or gears.size > 1
    rows = tuple(
        GearChange(
            gear=int(gear),
            change_percent=percent_change(float(change[i]), float(se[i]), dof),
            predicted_percent=predicted_percent,
            consistent=bool(consistent[i]) if judged else None,
        )
        for i, gear in enumerate(gears)
    )
    log_se = float(np.sqrt(agreement.variance))
    return Shift(rows, percent_change(agreement.value, log_se, dof), agreement.value, log_se, dof, agreement)
