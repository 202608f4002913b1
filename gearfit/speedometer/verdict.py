"""What a rule says of an instrument, with the uncertainty of the readings taken into account."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from gearfit.records.estimate import Estimate
from gearfit.records.results import SpeedometerPoint
from gearfit.speedometer.rules import NONE, Rule
from gearfit.speedometer.shape import Shape
from gearfit.units import SPEED_UNIT_LABELS, from_mps

WITHIN: Final = "within"
OUTSIDE: Final = "outside"
CANNOT_TELL: Final = "cannot tell yet"
NO_RULE: Final = "no rule"

#: Test speeds so far beyond the readings are not judged: share of the fastest, share of the slowest reading.
_BEYOND, _BELOW = 1.2, 0.7
#: More readings than this are no advice.
_MOST_READINGS: Final = 200


def point(shape: Shape, rule: Rule, true_mps: float, factor: float = 1.0) -> SpeedometerPoint:
    """Judge the instrument at one true speed.

    Parameters
    ----------
    shape : Shape
        The instrument.
    rule : Rule
        What is allowed.
    true_mps : float
        True speed.
    factor : float
        Pulses handed on by a corrector for each taken in: the instrument is told `factor` x `true_mps`.
    """
    shown, fixed = shape.at(factor * true_mps)
    low, high = rule.allowed_mps(true_mps)
    verdict, needed = NO_RULE, None
    if low is not None and high is not None:
        verdict = _verdict(shown, low, high) if in_reach(shape, true_mps) else CANNOT_TELL
        if verdict == CANNOT_TELL and in_reach(shape, true_mps):
            needed = _readings_needed(shown, fixed, low, high, shape.curve.units)
    return SpeedometerPoint(true_mps, shown, shown.shifted(-true_mps), low, high, verdict, needed)


def in_reach(shape: Shape, true_mps: float) -> bool:
    """Whether a speed is near enough to the readings to be judged by them."""
    return _BELOW * shape.slowest_mps <= true_mps <= _BEYOND * shape.fastest_mps


def _verdict(shown: Estimate, low: float, high: float) -> str:
    if shown.lo95 >= low and shown.hi95 <= high:
        return WITHIN
    return OUTSIDE if shown.hi95 < low or shown.lo95 > high else CANNOT_TELL


def _readings_needed(shown: Estimate, fixed: float, low: float, high: float, units: int) -> int | None:
    """About how many more readings bring the interval's end clear of the nearer limit; None where none would."""
    margin = min(abs(shown.value - low), abs(shown.value - high))
    # At a stop of the instrument the interval is cut off, down to nothing.
    quantile = (shown.hi95 - shown.lo95) / (2 * shown.se) if shown.se > 0 else 0.0
    left = (margin / quantile) ** 2 - fixed if quantile > 0 else 0.0
    if left <= 0 or units * (shown.se**2 - fixed) > (units + _MOST_READINGS) * left:
        return None
    return max(math.ceil(units * ((shown.se**2 - fixed) / left - 1)), 1)


def overall(points: Sequence[SpeedometerPoint], shape: Shape, rule: Rule, unit: str) -> str:
    """Put the verdicts at the test speeds into one: any "outside" decides, then any doubt."""
    if rule.name == NONE:
        return NO_RULE
    verdicts = {p.verdict for p in points}
    if OUTSIDE in verdicts:
        return OUTSIDE
    doubtful = [p for p in points if p.verdict == CANNOT_TELL]
    if not doubtful:
        return WITHIN
    far = [p.true_mps for p in doubtful if not in_reach(shape, p.true_mps)]
    if far:
        speeds = " and ".join(f"{from_mps(speed, unit):.0f}" for speed in far)
        return f"{CANNOT_TELL} (needs readings near {speeds} {SPEED_UNIT_LABELS[unit]})"
    needed = [p.readings_needed for p in doubtful]
    if any(n is None for n in needed):
        return f"{CANNOT_TELL} (too near a limit, or the true speed is not known well enough)"
    most = max(n for n in needed if n is not None)
    return f"{CANNOT_TELL} (needs {most} more reading{'' if most == 1 else 's'})"
