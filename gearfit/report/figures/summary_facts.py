"""The facts at the foot of the picture: what was timed, what the tyre rolls, how much was ridden."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from gearfit.records import words
from gearfit.records.results import Analysis, SpanComparison

MOST_FACTS: Final = 4
_MOST_SPANS: Final = 2


@dataclass(frozen=True)
class Fact:
    """A label, a number, and what belongs beside it."""

    label: str
    number: str
    beside: str


def facts(analysis: Analysis) -> list[Fact]:
    """Return up to `MOST_FACTS` facts, the timed spans first."""
    shown = [
        _span(span, analysis.speed_unit, comparison.other if len(analysis.comparisons) > 1 else "")
        for comparison in analysis.comparisons
        for span in comparison.timed_spans
    ][:_MOST_SPANS]
    for result in analysis.setups[-2:]:
        if result.circumference is not None:
            shown.append(
                Fact(
                    f"rolling circumference, {result.setup.name}",
                    f"{words.value(result.circumference.estimate_m)} m",
                    f"95{words.TIE}%: {words.interval(result.circumference.estimate_m).replace(' ', words.TIE)}, "
                    f"nominal{words.TIE}{words.number(result.circumference.nominal_m, 3)}",
                )
            )
    read = sum(len(result.samples) for result in analysis.setups)
    in_gear = sum(result.in_gear for result in analysis.setups)
    rides = words.count(len(analysis.setups), "setup")
    shown.append(Fact(f"samples in a gear, {rides}", words.whole(in_gear), f"of {words.whole(read)} read"))
    return shown[:MOST_FACTS]


def _span(span: SpanComparison, unit: str, name: str) -> Fact:
    label = words.span_label(span.from_mps, span.to_mps, unit) + (f", {name}" if name else "")
    means = f"{words.number(span.reference.mean_s)} → {words.number(span.other.mean_s)}{words.TIE}s".replace(
        " ", words.TIE
    )
    if span.difference_s is None:
        return Fact(label, means, "one run is no comparison")
    ends = words.interval(span.difference_s, signed=True).replace(" ", words.TIE)
    return Fact(label, f"{words.value(span.difference_s, signed=True)}{words.TIE}s", f"{means}, 95{words.TIE}%: {ends}")
