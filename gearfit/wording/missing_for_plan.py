"""What of a plan has still to be ridden."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from gearfit.prediction.planning.plan import GearPlan
from gearfit.prediction.planning.starts import StartPlan
from gearfit.records.words import count

if TYPE_CHECKING:
    from gearfit.records.results import SetupResult


def still_missing(
    setups: tuple[str, str], results: Mapping[str, SetupResult], gears: Sequence[GearPlan], starts: StartPlan
) -> tuple[str, ...]:
    """Say, setup by setup, which passes and runs are missing; empty before any ride and when all is there."""
    if not results:
        return ()
    found = []
    for name in setups:
        result = results.get(name)
        if result is None:
            found.append(f"{name}: the whole ride.")
            continue
        lacking = _passes(result, gears)
        if lacking:
            found.append(f"{name}: {lacking}.")
        runs = sum(
            abs(run.from_mps - starts.from_mps) < 0.05 and abs(run.to_mps - starts.to_mps) < 0.05
            for run in result.timed_spans
        )
        if runs < starts.runs:
            found.append(f"{name}: {starts.runs - runs} of {count(starts.runs, 'timed run')}.")
    return tuple(found)


def _passes(result: SetupResult, gears: Sequence[GearPlan]) -> str:
    ridden = {gear.gear: gear.passages for gear in result.gears}
    lacking = {gear.gear: len(gear.hold_rpm) - ridden.get(gear.gear, 0) for gear in gears}
    return ", ".join(
        f"{count(more, 'more pass', 'more passes')} in gear {gear}" for gear, more in lacking.items() if more > 0
    )
