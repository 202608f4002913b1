"""What to set on a pulse corrector, and the card of shown and true speeds for the dash.

A corrector hands on `factor` pulses for each one from the pick-up, so that the instrument is told factor x true speed:
the gain is corrected, the offset is not. Assumed, whatever rule was asked for: an instrument must not show less than
the true speed, as most rules demand, so no factor is given that leaves the lower end of a 95 % interval below it.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.records.estimate import Estimate
from gearfit.records.results import CardLine, Correction
from gearfit.speedometer.rules import Rule
from gearfit.speedometer.shape import Shape
from gearfit.speedometer.verdict import in_reach, point
from gearfit.units import MPS_PER_KMH, SPEED_UNITS_MPS

FloatArray = NDArray[np.float64]

#: Such devices are set in tenths of a per cent (common practice, no source).
STEP: Final = 0.001
#: Factors tried: instruments beyond these are not off, but the wrong ones.
_FACTORS: Final = STEP * np.arange(600, 1601)
#: Speeds at which a factor has to be safe, and speeds told at which the instrument is looked at.
_SPEEDS, _TOLD = 41, 161
#: Spacing of the dash card, in the unit of speed.
_CARD_STEP: Final = {"kmh": 10.0, "mph": 5.0}
#: Lines of the card, at most: with more, its steps are made wider.
_MOST_LINES: Final = 40
#: A raised instrument is not to show more than UN R39 would let it (`rules`), whatever rule was asked for.
_R39_SHARE, _R39_ABOVE_MPS = 0.1, 4 * MPS_PER_KMH
_NO_CORRECTOR: Final = "no corrector is advised"


def correction(shape: Shape, rule: Rule) -> Correction | str:
    """Find the least pulse factor that is safe, where the readings show that one is wanted.

    Safe means: at all speeds of the readings, and at the test speeds near these, the lower end of the 95 % interval is
    not below the true speed.

    Returns
    -------
    Correction or str
        Or, in words, why none is advised.
    """
    speeds = np.linspace(shape.slowest_mps, shape.fastest_mps, _SPEEDS)
    speeds = np.append(speeds, [speed for speed in rule.test_speeds_mps if in_reach(shape, speed)])
    speeds = np.sort(speeds[_away_from_stops(shape, speeds)])
    if not speeds.size:
        return f"{_NO_CORRECTOR}: it stands at a stop at every speed of the readings"
    shown = [shape.at(speed)[0] for speed in speeds]
    more = np.array([one.lo95 for one in shown]) > speeds
    less = np.array([one.hi95 for one in shown]) < speeds
    if more.any() and less.any():
        return (
            f"{_NO_CORRECTOR}: it shows too much at some speeds and too little at others, which no one factor mends; "
            "have the instrument itself set right"
        )
    if not more.any() and not less.any():
        return f"{_NO_CORRECTOR}: at every speed the 95 % interval of the error holds zero"
    factor = _least_safe(shape, speeds)
    if factor is None:
        return f"{_NO_CORRECTOR}: the readings are too few or too coarse to say which factor is safe; write more"
    if more.any() and factor > 1 - STEP / 2:
        return (
            f"{_NO_CORRECTOR}: it shows too much, but a lower factor might make it show less than the true speed at "
            "other speeds"
        )
    if factor > 1 and (shape.value_mps(factor * speeds) > speeds * (1 + _R39_SHARE) + _R39_ABOVE_MPS).any():
        return (
            f"{_NO_CORRECTOR}: a factor that is safe at every speed ({factor:.3f}) would make it show far too much at "
            "some; write more readings, or have the instrument itself set right"
        )
    near = [speed for speed in rule.test_speeds_mps if in_reach(shape, speed)] or [speeds[0], speeds[-1]]
    return Correction(factor, STEP, tuple(point(shape, rule, float(speed), factor) for speed in near))


def _away_from_stops(shape: Shape, speeds: FloatArray) -> NDArray[np.bool_]:
    """Whether the instrument is off its stops: there it shows the same, whatever it is told."""
    floor, ceiling = shape.cut_off.floor_mps, shape.cut_off.ceiling_mps
    shown = shape.value_mps(speeds)
    away: NDArray[np.bool_] = shown > (-np.inf if floor is None else floor)
    return away & (shown < (np.inf if ceiling is None else ceiling))


def _least_safe(shape: Shape, speeds: FloatArray) -> float | None:
    """Least factor with which no lower end is below the true speed at `speeds`; None where there is none."""
    told = np.linspace(_FACTORS[0] * speeds[0], _FACTORS[-1] * speeds[-1], _TOLD)
    lower = np.array([shape.at(speed)[0].lo95 for speed in told])
    # Lower ends of a line's intervals are concave in the speed, so that between two of them is on the safe side.
    safe = (np.interp(_FACTORS[:, None] * speeds, told, lower) >= speeds).all(axis=1)
    return float(_FACTORS[np.argmax(safe)]) if safe.any() else None


def dash_card(shape: Shape, unit: str) -> tuple[CardLine, ...]:
    """List round shown speeds with the true speed of each, over the range of the readings.

    Parameters
    ----------
    shape : Shape
        The instrument.
    unit : {"kmh", "mph"}
        Unit of the round numbers.
    """
    step_mps = _CARD_STEP[unit] * SPEED_UNITS_MPS[unit]
    true = np.linspace(0.9 * shape.slowest_mps, 1.1 * shape.fastest_mps, 2001)
    shown = shape.value_mps(true)
    first, last = max(math.ceil(shown[0] / step_mps), 1), math.floor(shown[-1] / step_mps)
    every = max(math.ceil((last - first + 1) / _MOST_LINES), 1)
    lines = []
    for k in range(every * math.ceil(first / every), last + 1, every):
        value = float(np.interp(k * step_mps, shown, true))
        there, _ = shape.at(value)
        slope = max(shape.gain_at(value), 1e-6)
        half = (there.hi95 - there.lo95) / (2 * slope)
        lines.append(CardLine(k * step_mps, Estimate(value, there.se / slope, value - half, value + half)))
    return tuple(lines)
