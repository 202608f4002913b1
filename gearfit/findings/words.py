"""How numbers, gears and speeds are written in findings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gearfit.bike import Setup
from gearfit.results import Estimate
from gearfit.units import SPEED_UNIT_LABELS, from_mps

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def gear_name(gear: int) -> str:
    """Write a gear as a rider says it."""
    return f"{_ORDINALS[gear - 1]} gear" if 1 <= gear <= len(_ORDINALS) else f"gear {gear}"


def gear_list(gears: Sequence[int]) -> str:
    """Write several gears: "gears 1-4 and 6"."""
    if len(gears) == 1:
        return gear_name(gears[0])
    runs: list[list[int]] = []
    for gear in sorted(gears):
        if runs and gear == runs[-1][1] + 1:
            runs[-1][1] = gear
        else:
            runs.append([gear, gear])
    parts = [str(a) if a == b else f"{a} and {b}" if b == a + 1 else f"{a}-{b}" for a, b in runs]
    return "gears " + (parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1])


def digits(half_width: float) -> int:
    """Decimals that show an interval of this half width with two digits at most."""
    if not np.isfinite(half_width) or half_width <= 0:
        return 1
    return int(np.clip(1 - np.floor(np.log10(half_width)), 0, 2))


def percent(value: float, decimals: int) -> str:
    """Write a percentage with its sign."""
    text = f"{value:+.{decimals}f}"
    return f"{text.lstrip('+-')} %" if float(text) == 0 else f"{text} %"


def percent_with_interval(e: Estimate) -> str:
    """Write an estimate in per cent with its 95 % interval."""
    d = digits((e.hi95 - e.lo95) / 2)
    return f"{percent(e.value, d)} (95 % interval {e.lo95:+.{d}f} to {e.hi95:+.{d}f} %)"


def seconds_with_interval(e: Estimate) -> str:
    """Write a difference in seconds with its 95 % interval."""
    return f"{e.value:+.2f} s (95 % interval {e.lo95:+.2f} to {e.hi95:+.2f} s)"


def speed(speed_mps: float, unit: str, decimals: int = 0) -> str:
    """Write a speed in the chosen unit."""
    return f"{from_mps(speed_mps, unit):.{decimals}f} {SPEED_UNIT_LABELS[unit]}"


def span(low_mps: float, high_mps: float, unit: str) -> str:
    """Write a timed span: "0-100 km/h"."""
    return f"{from_mps(low_mps, unit):.0f}-{from_mps(high_mps, unit):.0f} {SPEED_UNIT_LABELS[unit]}"


def teeth(setup: Setup) -> str:
    """Write the tooth counts of a setup, front/rear."""
    drive = setup.final_drive
    return f"{drive.front}/{drive.rear}"


def fell_or_rose(value: float) -> str:
    """Verb for a signed change."""
    return "fell" if value < 0 else "rose"
