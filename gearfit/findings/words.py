"""How numbers, gears and speeds are written in findings; the rest is in `gearfit.records.words`."""

from __future__ import annotations

from collections.abc import Sequence

from gearfit.records.results import Estimate
from gearfit.records.words import decimals_of, interval, number, value
from gearfit.records.words import gear_name as gear_name
from gearfit.units import SPEED_UNIT_LABELS, from_mps

_DASH = "\N{EN DASH}"


def gear_list(gears: Sequence[int]) -> str:
    """Write several gears: "gears 1–4 and 6"."""
    if len(gears) == 1:
        return gear_name(gears[0])
    runs: list[list[int]] = []
    for gear in sorted(gears):
        if runs and gear == runs[-1][1] + 1:
            runs[-1][1] = gear
        else:
            runs.append([gear, gear])
    parts = [str(a) if a == b else f"{a}{_DASH}{b}" for a, b in runs]
    return "gears " + (parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1])


def percent(amount: float, decimals: int = 2) -> str:
    """Write a percentage with its sign."""
    return f"{number(amount, decimals, signed=True)} %"


def percent_with_interval(e: Estimate) -> str:
    """Write an estimate in per cent with its 95 % interval."""
    return f"{value(e, signed=True)} % (95 % interval {interval(e, signed=True)} %)"


def percent_like(amount: float, e: Estimate) -> str:
    """Write a percentage with as many decimals as the estimate beside it."""
    return percent(amount, max(decimals_of(e), 1))


def points_apart(amount: float, e: Estimate) -> str:
    """Write how far two percentages lie apart, with as many decimals as the estimate that is one of them."""
    return f"{number(abs(amount), max(decimals_of(e), 1))} percentage points apart"


def seconds_with_interval(e: Estimate) -> str:
    """Write a difference in seconds with its 95 % interval."""
    ends = f"{number(e.lo95, 2, signed=True)} to {number(e.hi95, 2, signed=True)}"
    return f"{number(e.value, 2, signed=True)} s (95 % interval {ends} s)"


def speed(speed_mps: float, unit: str, decimals: int = 0) -> str:
    """Write a speed in the chosen unit."""
    return f"{from_mps(speed_mps, unit):.{decimals}f} {SPEED_UNIT_LABELS[unit]}"


def fell_or_rose(amount: float) -> str:
    """Verb for a signed change."""
    return "fell" if amount < 0 else "rose" if amount > 0 else "moved"
