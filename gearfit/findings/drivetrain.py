"""Fitted circumference against nominal, and gears against their tooth counts."""

from __future__ import annotations

from typing import Final

from gearfit.findings.facts import Facts
from gearfit.findings.words import gear_name, percent, percent_with_interval
from gearfit.results import Circumference, Finding, SetupResult

#: Beyond this share a circumference is too far from nominal for one tyre size and an honest tachometer.
_FAR: Final = 0.04


def find(facts: Facts, index: int) -> list[Finding]:
    """Say what circumference was fitted and which gears do not agree with their tooth counts."""
    result = facts.results[index]
    found = []
    if result.circumference is not None:
        found.append(_circumference(result, result.circumference))
    odd = {row.gear for row in result.outlying_rows}
    for gear in result.gears:
        if gear.consistent is False and gear.deviation_percent is not None and gear.gear not in odd:
            found.append(
                Finding(
                    "warning",
                    "gear-off-its-teeth",
                    f"{result.setup.name}: {gear_name(gear.gear)} is {percent_with_interval(gear.deviation_percent)} off "
                    "the ratio that its tooth counts give next to the other gears: check the counts in bike.toml, and "
                    "whether its samples are clean.",
                )
            )
    return found


def _circumference(result: SetupResult, found: Circumference) -> Finding:
    e = found.estimate_m
    text = f"{result.setup.name}: rolling circumference {e.value:.3f} m (95 % interval {e.lo95:.3f} to {e.hi95:.3f} m)"
    if found.nominal_m is None:
        return Finding("note", "circumference", f"{text}. It rests on {found.rests_on}.")
    apart = e.value / found.nominal_m - 1
    text += f", {percent(100 * apart, 1)} from the nominal {found.nominal_m:.3f} m. It rests on {found.rests_on}."
    if abs(apart) <= _FAR or e.contains(found.nominal_m):
        return Finding("note", "circumference", text)
    front, rear = result.setup.final_drive.front, result.setup.final_drive.rear
    teeth = (
        f"one tooth at the front is {100 / front:.1f} %, one at the rear {100 / rear:.1f} %; " if front and rear else ""
    )
    return Finding(
        "warning",
        "circumference-far-from-nominal",
        f"{text} All gears are off together: {teeth}a worn tyre up to 2 %, another make 2-3 %, a tachometer up to 3 %.",
    )
