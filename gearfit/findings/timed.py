"""Whether it is quicker, and by more than the scatter of the runs."""

from __future__ import annotations

from gearfit.comparison.timed_spans import ASSUMED_RUN_RELATIVE_SD
from gearfit.findings.facts import Facts, Pair
from gearfit.findings.words import seconds_with_interval
from gearfit.results import Finding, SpanComparison
from gearfit.words import span_label


def find(facts: Facts, pair: Pair) -> list[Finding]:
    """Say of each timed span whether the setups differ by more than the scatter."""
    return [_one(facts, pair, found) for found in pair.comparison.timed_spans]


def _one(facts: Facts, pair: Pair, found: SpanComparison) -> Finding:
    name = span_label(found.from_mps, found.to_mps, facts.speed_unit)
    a, b = pair.comparison.reference, pair.comparison.other
    means = f"{name}: {found.reference.mean_s:.2f} s {a} (n = {found.reference.n}), {found.other.mean_s:.2f} s {b} (n = {found.other.n})"
    if found.difference_s is None:
        return Finding(
            "warning",
            "timed-too-few",
            f"{means}. A single run in a setup is no comparison: its scatter is unknown. {_needed(found)}",
        )
    difference = seconds_with_interval(found.difference_s)
    if found.difference_s.contains(0.0):
        return Finding(
            "note",
            "timed-within-scatter",
            f"{means}. The difference, {difference}, is not more than the scatter of the runs. {_needed(found)}",
        )
    word = "quicker" if found.difference_s.value < 0 else "slower"
    return Finding(
        "note", "timed-differs", f"{means}. {b} is {word}: {difference}, more than the scatter of the runs explains."
    )


def _needed(found: SpanComparison) -> str:
    n = found.runs_needed_per_setup
    if n is None:
        return "No sensible number of runs would show a difference this small."
    assumed = (
        f" (if runs scatter by {100 * ASSUMED_RUN_RELATIVE_SD:.0f} %, which is assumed here)"
        if found.reference.n == 1 and found.other.n == 1
        else ""
    )
    return f"About {n} runs in each setup would show a difference of this size{assumed}."
