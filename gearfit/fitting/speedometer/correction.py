"""What to set on a pulse corrector, and the card of shown and true speeds for the dash.

A corrector hands on `factor` pulses for each one from the pick-up, so that the instrument is told factor x true speed:
the gain is corrected, the offset is not.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from gearfit.estimate import Estimate
from gearfit.fitting.speedometer.rules import Rule
from gearfit.fitting.speedometer.shape import Shape
from gearfit.fitting.speedometer.verdict import in_reach, point
from gearfit.results import CardLine, Correction
from gearfit.units import SPEED_UNITS_MPS

#: Such devices are set in tenths of a per cent (common practice, no source).
STEP: Final = 0.001
#: Factors tried beyond 1/gain for an instrument that must never show less than the true speed.
_MOST_STEPS: Final = 150
#: Spacing of the dash card, in the unit of speed.
_CARD_STEP: Final = {"kmh": 10.0, "mph": 5.0}


def correction(shape: Shape, rule: Rule) -> Correction:
    """Find the pulse factor nearest to 1/gain; where less than the true speed is forbidden, the least that is safe.

    Safe means: at each test speed near the readings the lower end of the 95 % interval is not below the true speed.
    """
    nearest = 1 / shape.gain.value
    steps = math.ceil(nearest / STEP - 1e-9) if rule.forbids_less else round(nearest / STEP)
    speeds = [speed for speed in rule.test_speeds_mps if in_reach(shape, speed)]
    if rule.forbids_less:
        for more in range(_MOST_STEPS):
            if all(shape.at((steps + more) * STEP * speed)[0].lo95 >= speed for speed in speeds):
                steps += more
                break
    factor = steps * STEP
    return Correction(factor, STEP, tuple(point(shape, rule, speed, factor) for speed in rule.test_speeds_mps))


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
    first, last = math.ceil(shown[0] / step_mps), math.floor(shown[-1] / step_mps)
    lines = []
    for k in range(max(first, 1), last + 1):
        value = float(np.interp(k * step_mps, shown, true))
        there, _ = shape.at(value)
        slope = max(shape.gain_at(value), 1e-6)
        half = (there.hi95 - there.lo95) / (2 * slope)
        lines.append(CardLine(k * step_mps, Estimate(value, there.se / slope, value - half, value + half)))
    return tuple(lines)
