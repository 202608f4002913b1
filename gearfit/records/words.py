"""Numbers and labels as people read them: as many decimals as the interval bears, a true minus sign."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from gearfit.machine.bike import Setup
from gearfit.records.estimate import Estimate
from gearfit.units import SPEED_UNIT_LABELS, from_mps

if TYPE_CHECKING:
    from gearfit.records.span_results import SpanComparison, TimedSpan

#: Runs in each setup beyond which nobody would ride them: a day at the track (ours).
MOST_RIDDEN: Final = 30
#: What stands where there is nothing to say.
NOTHING: Final = "–"
MINUS: Final = "\N{MINUS SIGN}"
#: Keeps a number and its unit on one line.
TIE: Final = "\N{NO-BREAK SPACE}"
#: What is assumed of the factor of a pulse corrector.
SAFE_FACTOR: Final = (
    "Taken is the factor nearest to the truth with which it shows no less than the true speed, within the 95 % "
    "interval, at the speeds of the readings: most rules demand that."
)
_MOST_DECIMALS: Final = 4
_ROAD_UNITS: Final = ("kmh", "mph")
_PLAIN_DECIMALS: Final = 2
_ORDINALS: Final = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def decimals_for(half_width: float) -> int:
    """Decimals that a number deserves: two figures of its half interval when that begins below 3.55, else one."""
    if not math.isfinite(half_width) or half_width <= 0:
        return _PLAIN_DECIMALS
    exponent = math.floor(math.log10(half_width))
    figures = 2 if half_width / 10**exponent < 3.55 else 1
    return min(max(figures - 1 - exponent, 0), _MOST_DECIMALS)


def decimals_of(estimate: Estimate) -> int:
    """Decimals for an estimate and its interval; more where an end would be shown as zero that is not."""
    decimals = decimals_for(half_width(estimate))
    ends = [end for end in (estimate.lo95, estimate.hi95) if math.isfinite(end) and end]
    while decimals < _MOST_DECIMALS and any(round(end, decimals) == 0 for end in ends):
        decimals += 1
    return decimals


def number(value: float | None, decimals: int = _PLAIN_DECIMALS, *, signed: bool = False) -> str:
    """Write a number with a true minus sign; `NOTHING` for None, NaN and infinity."""
    if value is None or not math.isfinite(value):
        return NOTHING
    rounded = round(value, decimals) + 0.0
    text = f"{rounded:+.{decimals}f}" if signed and rounded else f"{rounded:.{decimals}f}"
    return text.replace("-", MINUS)


def half_width(estimate: Estimate) -> float:
    """Half the 95 % interval."""
    return (estimate.hi95 - estimate.lo95) / 2


def value(estimate: Estimate | None, *, signed: bool = False) -> str:
    """Write an estimate's value alone, rounded as its interval bears."""
    if estimate is None:
        return NOTHING
    return number(estimate.value, decimals_of(estimate), signed=signed)


def interval(estimate: Estimate | None, *, signed: bool = False) -> str:
    """Write the ends of the 95 % interval, `NOTHING` where there is none."""
    if estimate is None or not math.isfinite(half_width(estimate)):
        return NOTHING
    decimals = decimals_of(estimate)
    return f"{number(estimate.lo95, decimals, signed=signed)} to {number(estimate.hi95, decimals, signed=signed)}"


def value_and_interval(estimate: Estimate | None, unit: str = "", *, signed: bool = False) -> str:
    """Write `value unit (lo to hi)`, or that there is no interval."""
    if estimate is None or not math.isfinite(estimate.value):
        return NOTHING
    ends = interval(estimate, signed=signed)
    shown = f"{value(estimate, signed=signed)}{TIE}{unit}" if unit else value(estimate, signed=signed)
    return f"{shown} (no interval)" if ends == NOTHING else f"{shown} ({ends})"


def between(values: Sequence[float], unit: str, decimals: int = 1) -> str:
    """Write the least and the greatest of some values, `-4.2 to -3.2 %`; one number where both look alike."""
    least, most = (number(end, decimals, signed=True) for end in (min(values), max(values)))
    return f"{least}{TIE}{unit}" if least == most else f"{least} to {most}{TIE}{unit}"


def ordinal(gear: int) -> str:
    """Write 1st, 2nd, 3rd, 4th ..."""
    last_two = gear % 100
    ending = "th" if 10 < last_two < 14 else {1: "st", 2: "nd", 3: "rd"}.get(gear % 10, "th")
    return f"{gear}{ending}"


def gear_name(gear: int) -> str:
    """Write a gear as a rider says it: `third gear`."""
    return f"{_ORDINALS[gear - 1]} gear" if 1 <= gear <= len(_ORDINALS) else f"gear {gear}"


def speed_label(unit: str) -> str:
    """Write a speed unit for people."""
    return SPEED_UNIT_LABELS[unit]


def in_unit(estimate_mps: Estimate, unit: str) -> Estimate:
    """Convert an estimate in metres per second to a speed unit."""
    return estimate_mps.scaled(from_mps(1.0, unit))


def teeth(setup: Setup) -> str:
    """Write the tooth counts `front/rear`, or an empty text where one is not known."""
    drive = setup.final_drive
    return f"{drive.front}/{drive.rear}" if drive.front and drive.rear else ""


def setup_label(setup: Setup) -> str:
    """Write a setup's name and, where known, its tooth counts."""
    counts = teeth(setup)
    return f"{setup.name} ({counts})" if counts else setup.name


def span_label(from_mps_: float, to_mps_: float, unit: str) -> str:
    """Write a timed span, `0 to 100 km/h`; with what was asked for in the other unit: `0 to 96.6 km/h (60 mph)`.

    A span has whole ends in the unit in which it was asked for.
    """
    ends = {each: [round(from_mps(speed, each), 1) + 0.0 for speed in (from_mps_, to_mps_)] for each in _ROAD_UNITS}
    said = f"{ends[unit][0]:g} to {ends[unit][1]:g} {speed_label(unit)}"
    for other, (start, end) in ends.items():
        if other != unit and _whole(start, end) and not _whole(*ends[unit]):
            said += f" ({f'{start:g} to ' if start else ''}{end:g} {speed_label(other)})"
    return said.replace(" ", TIE)


def span_name(found: SpanComparison | TimedSpan, unit: str) -> str:
    """Write which runs were compared, as no others are: `60 to 100 km/h in third gear`, `... by stopwatch`.

    Runs through several gears are told apart by the gear they begin in.
    """
    name = span_label(found.from_mps, found.to_mps, unit)
    if found.kind == "stopwatch":
        return f"{name}, by stopwatch"
    if found.how == "roll-on" and found.gears_alike:
        return f"{name} in {gear_name(found.gears_alike[0])}"
    begun = f" from {gear_name(found.gears_alike[0])}" if found.how == "through the gears" and found.gears_alike else ""
    how = found.how or (found.kind if found.kind != "ride" else "")
    return f"{name}, {how}{begun}" if how else name


def _whole(*numbers: float) -> bool:
    return all(value.is_integer() for value in numbers)


def whole_speed(speed_mps: float, unit: str) -> str:
    """Write a speed without decimals, with its unit ("kmh" or "mph")."""
    return f"{from_mps(speed_mps, unit):.0f} {speed_label(unit)}"


def whole(n: int) -> str:
    """Write a count, thousands apart by a narrow no-break space."""
    return f"{n:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def count(n: int, one: str, many: str = "") -> str:
    """Write a count with its noun: `1 sample`, `2 samples`; `many` where an s does not make it: `2 stretches`."""
    return f"{whole(n)} {one if n == 1 else many or f'{one}s'}"


def runs_words(runs: int | None, lo95: int | None, hi95: int | None) -> str:
    """Write how many runs a difference takes, with the 95 % interval: `about 12 runs (5 to over 30)`.

    None stands for more than are counted; beyond `MOST_RIDDEN` no number is named.
    """
    if runs is None or runs > MOST_RIDDEN:
        lucky = lo95 is not None and lo95 <= MOST_RIDDEN
        return f"more runs than anyone would ride (over {MOST_RIDDEN}{f'; at best {lo95}' if lucky else ''})"
    ends = _ends(lo95, hi95)
    return f"about {count(runs, 'run')}" + (f" ({ends})" if ends != str(runs) else "")


def runs_interval(lo95: int | None, hi95: int | None) -> str:
    """Write the interval of a number of runs: `5 to over 30`; nothing where it lies beyond `MOST_RIDDEN`."""
    return "" if lo95 is None or lo95 > MOST_RIDDEN else _ends(lo95, hi95)


def _ends(lo95: int | None, hi95: int | None) -> str:
    if lo95 is not None and lo95 == hi95:
        return str(lo95)
    most = f"over {MOST_RIDDEN}" if hi95 is None or hi95 > MOST_RIDDEN else str(hi95)
    return f"{NOTHING if lo95 is None else lo95} to {most}"
