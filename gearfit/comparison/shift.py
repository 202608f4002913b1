"""How far each gear moved from one setup to the other, and all gears together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.agreement import Agreement, common_level
from gearfit.fitting.ratios.levels import Levels, difference_covariance, without_shared_slip
from gearfit.fitting.ratios.quantiles import percent_change
from gearfit.records.results import Estimate, GearChange

FloatArray = NDArray[np.float64]

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
    suspect : int or None
        The one gear that agrees with the others within chance, but without which they agree with the prediction while
        all together do not.
    noted_off : (int, float) or None
        By how many numbers the gears of the other setup are noted too high, where they fit those of the reference much
        better so, and the change in per cent that this gives; then no change is given.
    """

    gears: tuple[GearChange, ...]
    all_gears_percent: Estimate | None
    log_change: float
    log_se: float
    dof: float
    agreement: Agreement | None
    suspect: int | None = None
    noted_off: tuple[int, float] | None = None


#: No gear that both setups have, or none of which the number is sure.
NOTHING: Final = Shift((), None, np.nan, np.nan, np.nan, None)
#: A change of sprockets that anybody rides is smaller, per cent (our assumption: three teeth in front of 14 and some at
#: the rear).
_MOST_BY_SPROCKETS: Final = 30.0
#: Gears are taken to be noted one off where three of them at least spread by more than this as noted, ln ratio (the
#: steps of a gearbox differ by more), and by less than this share of it one number on (ours).
_LEAST_GEARS: Final = 3
_SPREAD: Final = 0.025
_BETTER: Final = 0.35
#: Half width of an interval beyond which a change is not told, percentage points: half a tooth in front of 14 (ours).
_TOO_WIDE: Final = 3.5
#: A gear this many standard errors from the others may be the one that is wrong (1 in 20 by chance).
_SUSPICIOUS: Final = 2.0


def as_predicted(change: Estimate, predicted_percent: float) -> bool:
    """Tell whether a measured change agrees with a prediction, what two rides differ by anyway allowed for."""
    half = (change.hi95 - change.lo95) / 2
    return bool(abs(change.value - predicted_percent) <= np.hypot(half, 100 * 1.96 * RIDE_TO_RIDE_SD))


def beyond_sprockets(change: Estimate) -> bool:
    """Tell whether a change is larger than a change of sprockets: then something else was changed, or noted wrongly."""
    return abs(change.value) > _MOST_BY_SPROCKETS and not too_wide(change)


def too_wide(change: Estimate) -> bool:
    """Tell whether a change is known too badly to be told: half a tooth in front of 14 either way."""
    return (change.hi95 - change.lo95) / 2 > _TOO_WIDE


def undecided(change: Estimate | None, predicted_percent: float | None) -> bool:
    """Tell whether a change cannot tell its prediction from no change at all, or is known too badly to be told.

    Then it says nothing of the sprockets either: what is stated would come out as likely as it was before.
    """
    if change is None or too_wide(change):
        return True
    return bool(predicted_percent) and change.contains(0.0) and change.contains(predicted_percent or 0.0)


def shift(
    reference: Levels | None, other: Levels | None, predicted_percent: float | None, *, same_tyre: bool = True
) -> Shift:
    """Compare the levels of two setups; what the slip of one and the same tyre is off the usual one cancels.

    Gears are judged against each other and never against the prediction, which stands or falls for all of them
    together. A gear is `consistent` when its change agrees with that of the others within the limit that all gears
    together exceed by chance in 1 % of cases (Sidak); None where there is no other.
    """
    if reference is None or other is None:
        return NOTHING
    gears, at, to = np.intersect1d(reference.gear, other.gear, return_indices=True)
    if gears.size == 0:
        return NOTHING
    change = reference.log_ratio[at] - other.log_ratio[to]
    off = _noted_off(reference, other, float(np.std(change)))
    if off is not None:
        return replace(NOTHING, noted_off=off)
    covariance = difference_covariance(reference if same_tyre else without_shared_slip(reference), other, at, to)
    dof = min(reference.dof, other.dof)
    agreement = common_level(change, covariance, dof)
    se = np.sqrt(np.diag(covariance))
    rows = tuple(
        GearChange(
            gear=int(gear),
            change_percent=percent_change(float(change[i]), float(se[i]), dof),
            predicted_percent=predicted_percent,
            consistent=bool(agreement.agrees[i]) if gears.size > 1 else None,
        )
        for i, gear in enumerate(gears)
    )
    log_se = float(np.sqrt(agreement.variance))
    moved = Shift(rows, percent_change(agreement.value, log_se, dof), agreement.value, log_se, dof, agreement)
    return replace(moved, suspect=_suspect(moved, change, covariance, predicted_percent))


def _noted_off(reference: Levels, other: Levels, spread: float) -> tuple[int, float] | None:
    """Find whether the gears of the other setup, one number lower or higher, move alike as they do not as noted."""
    for off in (-1, 1):
        gears, at, to = np.intersect1d(reference.gear, other.gear - off, return_indices=True)
        if gears.size < _LEAST_GEARS or spread < _SPREAD:
            continue
        change = reference.log_ratio[at] - other.log_ratio[to]
        if float(np.std(change)) < _BETTER * spread:
            return off, float(100 * np.expm1(np.median(change)))
    return None


def with_common_error(moved: Shift, relative_sd: float) -> Shift:
    """Return a shift whose gears may all be off together, as where two setups hold two kinds of speed.

    Parameters
    ----------
    moved : Shift
        As the samples show it.
    relative_sd : float
        Standard deviation of that error, as a share; the degrees of freedom become Welch's, as its own are endless.
    """
    if moved.all_gears_percent is None:
        return moved

    def wider(log_change: float, log_se: float) -> tuple[Estimate, float, float]:
        se = float(np.hypot(log_se, relative_sd))
        dof = moved.dof * (se / log_se) ** 4
        return percent_change(log_change, se, dof), se, dof

    gears = []
    for gear in moved.gears:
        factor = 1 + gear.change_percent.value / 100
        log_se = gear.change_percent.se / (100 * factor)
        gears.append(replace(gear, change_percent=wider(float(np.log(factor)), log_se)[0]))
    change, se, dof = wider(moved.log_change, moved.log_se)
    return replace(moved, gears=tuple(gears), all_gears_percent=change, log_se=se, dof=dof)


def _suspect(moved: Shift, change: FloatArray, covariance: FloatArray, predicted_percent: float | None) -> int | None:
    """Find the gear that alone keeps the others from agreeing with the prediction."""
    agreement, together = moved.agreement, moved.all_gears_percent
    if agreement is None or together is None or predicted_percent is None or agreement.agrees.sum() < 3:
        return None
    if as_predicted(together, predicted_percent):
        return None
    z = np.where(agreement.agrees, np.abs(agreement.departure) / agreement.departure_se, 0.0)
    worst = int(np.argmax(z))
    others = np.flatnonzero(agreement.agrees & (np.arange(change.size) != worst))
    rest = common_level(change[others], covariance[np.ix_(others, others)], moved.dof)
    alone = percent_change(rest.value, float(np.sqrt(rest.variance)), moved.dof)
    return moved.gears[worst].gear if z[worst] > _SUSPICIOUS and as_predicted(alone, predicted_percent) else None
