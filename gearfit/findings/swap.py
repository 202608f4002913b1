"""What the ride of the reference alone says about the other gearing, and why."""

from __future__ import annotations

from gearfit.findings.facts import Facts, Pair
from gearfit.findings.words import gear_name, percent, seconds_with_interval
from gearfit.records.results import Finding, SetupResult
from gearfit.records.thrust_results import SpanPrediction, SwapOnPaper
from gearfit.records.words import count, number, span_label
from gearfit.wording.swap_words import assumed, hardest, held_back, shifting, short_of, unreached


def find(facts: Facts, pair: Pair) -> list[Finding]:
    """Say what the swap does on paper, or what kept it from being said; nothing where nobody rode runs."""
    swap = pair.comparison.swap
    if swap is None:
        return _unsaid(pair)
    said = [text for span in swap.spans if (text := span_words(span, facts.speed_unit))]
    if not said:
        return []
    text = (
        f"On paper, from the ride “{swap.reference.name}” alone, “{swap.other.name}” changes the time {'; '.join(said)}. "
        f"{why(swap)}"
    )
    if missed := unreached(swap, facts.speed_unit):
        text += f" {missed}"
    return [Finding("note", "swap-on-paper", text)]


def _unsaid(pair: Pair) -> list[Finding]:
    name, compared = pair.reference.setup.name, pair.comparison
    known = compared.predicted_change_percent is not None or compared.all_gears_change_percent is not None
    if not known:
        return []
    runs = any(run.kind == "ride" for run in pair.reference.timed_spans)
    if pair.reference.gears_by_starts:
        although = ", although runs were found" if runs else ""
        lacks = "its gears were found from starts alone: log some minutes of ordinary riding as well"
        return [Finding("note", "swap-not-said", f"No times on paper from {name}{although}; {lacks}.")]
    if not runs:
        return []
    if compared.hardest is not None:
        return [Finding("note", "swap-not-said", f"No times on paper from {name}: {short_of(compared.hardest)}.")]
    lacks = "no gears were found: log some steady riding in each gear as well, not starts alone"
    if not _engine_in_runs(pair.reference):
        lacks = "their logs hold no engine speed, which alone tells gears and shifts"
    elif pair.reference.gears:
        lacks = "the ride shows too little at full throttle from first gear up, or was recorded less often than 5 times a second"
    return [Finding("note", "swap-not-said", f"No times on paper from {name}, although runs were found; {lacks}.")]


def _engine_in_runs(result: SetupResult) -> bool:
    files = {run.source for run in result.timed_spans if run.kind == "ride"}
    samples = result.samples
    return bool(samples.loc[samples["file"].isin(files), "engine_rpm"].notna().any())


def span_words(span: SpanPrediction, unit: str) -> str:
    """Say one span; "" where it is not reached or no start was seen."""
    if span.difference_s is None:
        return ""
    gear = " through the gears" if span.how == "through the gears" else ""
    if span.how == "roll-on" and len(span.gears) == 1:
        gear = f" in {gear_name(span.gears[0])}"
    found = f"from {span_label(span.from_mps, span.to_mps, unit)}{gear} by {seconds_with_interval(span.difference_s)}"
    more = span.shifts_other - span.shifts_reference
    if more > 0:
        return f"{found}, with {count(more, 'more change')} of gear"
    return f"{found}, with {count(-more, 'fewer change')} of gear" if more < 0 else found


def why(swap: SwapOnPaper) -> str:
    """Say why, and on what it rests."""
    way = "higher" if swap.speed_percent > 0 else "lower"
    said = (
        f"Why: thrust at the wheel {percent(swap.thrust_percent, 1)} in each gear at the same engine speed, and each gear "
        f"ends at a road speed {number(abs(swap.speed_percent), 1)} % {way}. {hardest(swap)}"
    )
    said = "; ".join(part for part in (said, shifting(swap)) if part) + "."
    if assumed(swap):
        said += f" {assumed(swap)}"
    if held_back(swap):
        said += f" {held_back(swap)}"
    if swap.lift_capped:
        said += (
            " The stated centre of gravity says that the front wheel would lift; acceleration is taken no higher than "
            "that, or than was ridden."
        )
    if swap.grip_capped:
        said += (
            " The stated grip of the driven tyre is less than the engine could use; the force on the road is taken no "
            "higher than that, or than was ridden."
        )
    return said
