"""The records that a check of speedometer and odometer consists of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearfit.brief import Brief
from gearfit.records.estimate import Estimate

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class SpeedometerPoint:
    """The instrument at one true speed, and what the rule allows it to show there.

    Attributes
    ----------
    true_mps : float
        True speed.
    indicated_mps, error_mps : Estimate
        What the instrument shows, and that less the true speed.
    allowed_lo_mps, allowed_hi_mps : float or None
        Lowest and highest lawful indication; None without a rule.
    verdict : str
        "within", "outside", "cannot tell yet" or "no rule".
    readings_needed : int or None
        About how many more readings would settle it, where "cannot tell yet"; None where no number of readings at
        the speeds ridden so far would (speeds not ridden, or an indication right on the limit).
    """

    true_mps: float
    indicated_mps: Estimate
    error_mps: Estimate
    allowed_lo_mps: float | None
    allowed_hi_mps: float | None
    verdict: str
    readings_needed: int | None


@dataclass(frozen=True)
class CardLine:
    """One line of the dash card: what the instrument shows, and the true speed then."""

    shown_mps: float
    true_mps: Estimate


@dataclass(frozen=True)
class Correction:
    """What to set on a pulse corrector between pick-up and instrument.

    Attributes
    ----------
    pulse_factor : float
        Pulses handed on for each pulse taken in, a multiple of `step`: the least with which the instrument shows no
        less than the true speed within its 95 % interval.
    step : float
        Step to which the factor was rounded.
    remaining : tuple of SpeedometerPoint
        The instrument once it is set, at the test speeds near the readings; at the ends of these where there are none.
    """

    pulse_factor: float
    step: float
    remaining: tuple[SpeedometerPoint, ...]


@dataclass(frozen=True, eq=False, repr=False)
class Speedometer(Brief):
    """Shown speed = offset + gain x true speed.

    Attributes
    ----------
    gain, offset_mps : Estimate
        Of the straight line, also where `linear` is False.
    at : tuple of SpeedometerPoint
        At the test speeds of the rule.
    verdict : str
        "within", "outside", "no rule" or "cannot tell yet (...)" with what would settle it.
    correction_factor : float
        1/gain.
    rule : str
        Name of the rule, "none" where none was asked for.
    linear : bool
        Whether a straight line describes the readings; where not, points and curve follow a monotone curve.
    lag_s : Estimate or None
        How far the instrument is behind the receiver; None for sheets.
    floor_mps, ceiling_mps : float or None
        Indications at which the instrument was found to stop; None where it was not.
    readings : pandas.DataFrame
        file, row, true_mps, shown_mps, set_aside ("" where used, else why not): each reading, or mean of one second.
    units : int
        Independent stretches of riding, or rows of a sheet, behind the intervals.
    rests_on : tuple of str
        From which kinds of readings, in plain words.
    notes : tuple of str
        What could not be used, and why, each a sentence.
    curve : tuple of SpeedometerPoint
        Along the speeds ridden, for the picture.
    correction : Correction or str
        What a pulse corrector would take; or, in words, why none is advised.
    card : tuple of CardLine
        Shown speeds in round numbers of the unit asked for.
    """

    gain: Estimate
    offset_mps: Estimate
    at: tuple[SpeedometerPoint, ...]
    verdict: str
    correction_factor: float
    rule: str
    linear: bool
    lag_s: Estimate | None
    floor_mps: float | None
    ceiling_mps: float | None
    readings: pd.DataFrame
    units: int
    rests_on: tuple[str, ...]
    notes: tuple[str, ...]
    curve: tuple[SpeedometerPoint, ...]
    correction: Correction | str
    card: tuple[CardLine, ...]
