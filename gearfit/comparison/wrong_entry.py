"""Which slip that people make in bike.toml, or in a header, would explain that all gears are off together.

The stated ratios make the circumference C = 60 v i/n, equation (1) of docs/method.md rearranged: a factor f too large
in i makes C as much too large. A primary drive multiplied into the gears already gives f = primary, sprockets entered
the wrong way round give f = (rear/front)^2, and a speed under the wrong unit gives the factor between km/h and mph.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from gearfit.machine.bike import Bike, Setup
from gearfit.units import MPS_PER_KMH, MPS_PER_MPH

#: How near a factor must come, ln: tyre and tachometer (2.8 standard deviations of 2 % and of 3 %/sqrt 3 together).
_NEAR: Final = 0.075
#: Ratios that a primary drive of a motorcycle has (common practice, no source).
_PRIMARY: Final = (1.2, 3.8)
#: Teeth of gears in a gearbox (common practice, no source), and how exactly their quotient is the stated ratio.
_GEAR_TEETH: Final = range(11, 46)
_SAME_RATIO: Final = 1e-6


@dataclass(frozen=True)
class WrongEntry:
    """An entry that explains a factor.

    Attributes
    ----------
    kind : {"primary in gears", "final drive exchanged", "unit", "primary"}
        The primary drive multiplied into the gears already; front and rear sprocket exchanged; miles per hour under a
        header in km/h, or the other way round; another primary drive than stated.
    fits : float
        The value that would fit: of `primary`, or of rear/front; 1 for a unit.
    """

    kind: Literal["primary in gears", "final drive exchanged", "unit", "primary"]
    fits: float


def wrong_entry(bike: Bike, setup: Setup, log_factor: float) -> WrongEntry | None:
    """Return the entry that explains a factor of all overall ratios; None where none does.

    Parameters
    ----------
    bike, setup : Bike, Setup
        As stated, with primary drive and final drive.
    log_factor : float
        ln of stated overall ratio over the one that ride and tyre show.
    """
    primary, reduction = bike.gearbox.primary, setup.final_drive.reduction
    if primary is None or reduction is None:
        return None
    log_primary, log_reduction = math.log(primary), math.log(reduction)
    told: tuple[WrongEntry | None, ...] = (
        _near(log_factor, log_primary, WrongEntry("primary in gears", 1.0)),
        _near(abs(log_factor), math.log(MPS_PER_MPH / MPS_PER_KMH), WrongEntry("unit", 1.0)),
        _near(log_factor, 2 * log_reduction, WrongEntry("final drive exchanged", 1 / reduction)),
    )
    for entry in told:
        if entry is not None:
            return entry
    fits = primary * math.exp(-log_factor)
    return WrongEntry("primary", fits) if _PRIMARY[0] <= fits <= _PRIMARY[1] else None


def _near(log_factor: float, expected: float, entry: WrongEntry) -> WrongEntry | None:
    large = abs(expected) > 2 * _NEAR
    return entry if large and abs(log_factor - expected) <= _NEAR else None


def mistyped_teeth(stated: float, fits: float, relative: float) -> tuple[str, ...]:
    """List teeth of a gear that would fit the rides, one of the two stated numbers off by one or two.

    Parameters
    ----------
    stated, fits : float
        Ratio as stated, which may be a quotient of teeth, and as the rides show it.
    relative : float
        How well they show it: half width of the 95 % interval, as a share.

    Returns
    -------
    tuple of str
        "26/22", nearest first, at most two; empty where the stated ratio is no quotient of usual tooth counts.
    """
    found: dict[str, float] = {}
    for driving in _GEAR_TEETH:
        driven = round(stated * driving)
        if driven not in _GEAR_TEETH or abs(driven / driving / stated - 1) > _SAME_RATIO:
            continue
        for step in (-2, -1, 1, 2):
            for a, b in ((driven + step, driving), (driven, driving + step)):
                apart = abs(a / b / fits - 1)
                if apart <= relative:
                    found[f"{a}/{b}"] = apart
    return tuple(sorted(found, key=lambda pair: found[pair]))[:2]
