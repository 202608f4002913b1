"""Fitted circumference against nominal, sprockets that a ride shows, and gears against their tooth counts."""

from __future__ import annotations

from typing import Final

from gearfit.findings import ride_teeth
from gearfit.findings.facts import Facts
from gearfit.findings.words import gear_name, percent, percent_with_interval
from gearfit.results import Circumference, Finding, SetupResult

#: Beyond this share a circumference is further from nominal than tyres of one size are (our assumption).
_FAR: Final = 0.04


def find(facts: Facts, index: int) -> list[Finding]:
    """Say what circumference was fitted, which teeth fit, and which gears do not agree with their tooth counts."""
    result = facts.results[index]
    found: list[Finding] = []
    if result.circumference is not None:
        found.append(_circumference(result, result.circumference))
    found += ride_teeth.find(facts, index)
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
    rests = f"It rests on {found.rests_on}."
    if found.nominal_m is None:
        return Finding("note", "circumference", f"{text}. {rests}")
    apart = e.value / found.nominal_m - 1
    text += f", {percent(100 * apart, 1)} from the nominal {found.nominal_m:.3f} m."
    if abs(apart) <= _FAR or e.contains(found.nominal_m):
        return Finding("note", "circumference", f"{text} {rests}")
    doubt = "That is more than tyres of one size differ (2–3 %): look at tyre size, teeth and primary drive before you use it."
    return Finding("warning", "circumference-far-from-nominal", f"{text} {doubt} {rests}")
