"""Prepared sheets: each row asks for one reading or one run, its last cell is left to fill in."""

from __future__ import annotations

from typing import Final

from gearfit.prediction.planning.plan import Plan
from gearfit.units import from_mps

WAYS: Final = ("out", "back")


def holds_sheet(plan: Plan, unit: str) -> str:
    """Return the sheet of held engine speeds: gear, rpm, way, and the speed to fill in."""
    rows = [f"{gear.gear},{rpm:.0f},{WAYS[k % 2]}," for gear in plan.gears for k, rpm in enumerate(gear.hold_rpm)]
    return "\n".join([f"gear,rpm,way,speed_{unit}", *rows]) + "\n"


def runs_sheet(plan: Plan, unit: str) -> str:
    """Return the sheet of timed runs: from, to, way, and the time to fill in."""
    low, high = (f"{from_mps(speed, unit):.6g}" for speed in (plan.starts.from_mps, plan.starts.to_mps))
    rows = [f"{low},{high},{WAYS[k % 2]}," for k in range(plan.starts.runs)]
    return "\n".join([f"from_{unit},to_{unit},way,time_s", *rows]) + "\n"
