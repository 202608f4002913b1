"""What the ride of the reference alone says about the other gearing, and why."""

from __future__ import annotations

from gearfit.findings.facts import Facts, Pair
from gearfit.findings.words import percent, seconds_with_interval
from gearfit.results import Finding
from gearfit.thrust_results import SpanPrediction, SwapOnPaper
from gearfit.words import count, number, span_label


def find(facts: Facts, pair: Pair) -> list[Finding]:
    """Say what the swap does on paper; nothing where the ride had no full throttle."""
    swap = pair.comparison.swap
    if swap is None:
        return []
    said = [text for span in swap.spans if (text := span_words(swap, span, facts.speed_unit))]
    if not said:
        return []
    return [Finding("note", "swap-on-paper", f"{' '.join(said)} {why(swap)}")]


def span_words(swap: SwapOnPaper, span: SpanPrediction, unit: str) -> str:
    """Say one span; "" where it is not reached or no start was seen."""
    if span.difference_s is None:
        return ""
    name = span_label(span.from_mps, span.to_mps, unit)
    found = f"On paper {swap.other.name} changes {name} by {seconds_with_interval(span.difference_s)}"
    more = span.shifts_other - span.shifts_reference
    if more > 0:
        found += f", with {count(more, 'shift')} more before the target"
    elif more < 0:
        found += f", with {count(-more, 'shift')} fewer before the target"
    return f"{found}."


def why(swap: SwapOnPaper) -> str:
    """Say why, and on what it rests."""
    said = (
        f"Why: thrust at the wheel {percent(swap.thrust_percent, 1)} in each gear at the same engine speed, and each gear "
        f"ends at a road speed {percent(swap.speed_percent, 1)} different. From {_stretches(swap.stretches)} at "
        f"full throttle of {swap.reference.name} alone, on the level"
    )
    if swap.shift_rpm is not None and swap.shift_s is not None:
        said += f", shifting at {number(swap.shift_rpm.value, 0)} rpm in {number(swap.shift_s.value)} s as ridden"
    said += "."
    if swap.held_back:
        said += (
            " First gear pulled less than the engine could give: grip, a light front wheel or a careful hand. It is "
            "taken to pull no harder with the other gearing."
        )
    if swap.lift_capped:
        said += (
            " The stated centre of gravity says that the front wheel would lift; thrust is taken no higher than that."
        )
    return said


def _stretches(n: int) -> str:
    return "1 stretch" if n == 1 else f"{n} stretches"
