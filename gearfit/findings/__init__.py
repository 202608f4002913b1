"""Findings: what the analysis says, in plain words, in the order in which a rider should read it.

A finding never claims more than the interval allows; what cannot be told is said as such.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from gearfit.findings import change, clutch, drivetrain, gears, missing, same_number, sources, speedometer, swap, timed
from gearfit.findings import next as what_next
from gearfit.findings.facts import Facts
from gearfit.records.results import Finding


def find(facts: Facts) -> tuple[Finding, ...]:
    """Put the facts of an analysis into findings, the answer first and the remarks about files last."""
    suspected = clutch.suspects(facts)
    found: list[Finding] = [*suspected.values(), *speedometer.find_first(facts)]
    for index, result in enumerate(facts.results):
        found += clutch.in_doubt(gears.odd_rows(facts, index), suspected, (result.setup.name,))
    found += same_number.find(facts)
    for pair in facts.pairs:
        said = [*gears.suspected(facts, pair), *gears.out_of_line(facts, pair)]
        said += change.find(facts, pair) if facts.holds_gearing(pair) else []
        said += [*timed.find(facts, pair), *swap.find(facts, pair)]
        sides = (pair.comparison.reference, pair.comparison.other)
        found += clutch.in_doubt(_about(pair.comparison.other, said), suspected, sides)
    found += timed.find_runs(facts)
    found += speedometer.find(facts)
    found += drivetrain.mistyped(facts)
    found += gears.lacking(facts)
    for index, result in enumerate(facts.results):
        found += gears.numbering(facts, index)
        told = _about(result.setup.name, drivetrain.find(facts, index))
        found += clutch.in_doubt(told, suspected, (result.setup.name,))
        found += _about(result.setup.name, sources.find(facts, index))
    found += what_next.find(facts)
    found += missing.find(facts)
    return tuple(found)


def _about(setup: str, findings: Iterable[Finding]) -> list[Finding]:
    return [replace(finding, about=setup) for finding in findings]
