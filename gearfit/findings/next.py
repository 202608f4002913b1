"""What next: the tooth pair that leads from what was measured to what is wanted, and the doubts that a ride settles."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

from gearfit.comparison.shift import RIDE_TO_RIDE_SD
from gearfit.findings.facts import Facts, Pair
from gearfit.findings.timed import runs_to_settle
from gearfit.findings.words import gear_list, gear_name, percent, percent_with_interval
from gearfit.prediction.basis import Gearing, ridden
from gearfit.prediction.wishes import MET_PERCENT, RankedPair, nearest_pairs
from gearfit.records.recording import INSTRUMENTS
from gearfit.records.results import Estimate, Finding, SetupResult, SpanComparison
from gearfit.records.words import MOST_RIDDEN, count, setup_label, span_name
from gearfit.units import MPS_PER_KMH, SPEED_UNIT_LABELS, from_mps

#: Pairs named, and the most times as many readings that one more ride can bring.
_NAMED: Final = 3
_MOST_TIMES: Final = 10
#: Half width of the interval, as a share of the change, at which the change shows in nine of ten tests: 1.96/(1.96 + 1.28).
_SHARE_TO_SHOW: Final = 0.6
_SURE: Final = 0.8
#: Said of a change, which is a percentage itself.
_MET_POINTS: Final = count(int(MET_PERCENT), "percentage point")


def find(facts: Facts) -> list[Finding]:
    """Say which pair gets the rider what bike.toml wishes for, and what one more ride would settle."""
    return [*_wishes(facts), *_doubts(facts)]


def _wishes(facts: Facts) -> list[Finding]:
    wish, result = facts.folder.bike.wish, facts.results[-1]
    now = ridden(facts.folder.bike, result)
    if not wish.stated or now is None:
        return []
    if now.pair is None:
        text = "A wish is stated, but not the sprockets fitted: count the teeth on both and put them into bike.toml."
        return [Finding("warning", "wish-needs-teeth", text)]
    if result.speed_source in INSTRUMENTS:
        shown = "what the speedometer showed" if result.speed_source == "speedometer" else "the machine's own"
        text = f"A wish is stated, but the speeds are {shown}, which says too little about it."
        return [Finding("note", "wish-not-judged", f"{text} Ride with a satellite receiver.")]
    found = []
    if wish.change_percent is not None:
        found += _wished_change(facts, result, now, wish.change_percent)
    if wish.cruise_kmh is not None and wish.at_rpm is not None:
        found.append(_wished_cruise(facts, result, now, wish.cruise_kmh * MPS_PER_KMH, wish.at_rpm))
    return found


def _wished_change(facts: Facts, result: SetupResult, now: Gearing, wanted: float) -> list[Finding]:
    """Answer a wish that is meant against the first setup."""
    reference = facts.results[0].setup.name
    if not facts.pairs:
        return [_pairs(f"You want {percent(wanted)} against {reference}.", result, now, wanted, 0.0)]
    pair = facts.pairs[-1]
    moved = pair.comparison.all_gears_change_percent
    if moved is None or not facts.holds_gearing(pair):
        return []
    head = f"You want {percent(wanted)} against {reference}; {result.setup.name} gives {percent_with_interval(moved)}."
    if abs(moved.value - wanted) <= MET_PERCENT:
        return [Finding("note", "wish-met", f"{head} That is within {_MET_POINTS} of the wish.")]
    return [_pairs(head, result, now, 100 * ((100 + wanted) / (100 + moved.value) - 1), moved.value)]


def _wished_cruise(facts: Facts, result: SetupResult, now: Gearing, cruise_mps: float, at_rpm: float) -> Finding:
    rpm = 1000 * cruise_mps / now.speed_per_1000rpm_mps[-1]
    shown = f"{from_mps(cruise_mps, facts.speed_unit):.0f} {SPEED_UNIT_LABELS[facts.speed_unit]}"
    head = (
        f"You want {shown} at {at_rpm:.0f} rpm in {gear_name(now.gears[-1])}; {setup_label(result.setup)} turns {rpm:.0f} rpm "
        "there."
    )
    if abs(rpm / at_rpm - 1) <= MET_PERCENT / 100:
        return Finding("note", "wish-met", f"{head} That is within {MET_PERCENT:g} % of the wish.")
    return _pairs(head, result, now, 100 * (rpm / at_rpm - 1), 0.0)


def _pairs(head: str, result: SetupResult, now: Gearing, needed: float, moved: float) -> Finding:
    """Name the pairs that come nearest from what is fitted; `moved` is what it has changed already, per cent."""
    pairs = nearest_pairs(now.final_drive, needed)[:_NAMED]
    names = ", ".join(f"{pair.front}/{pair.rear} ({_reached(pair, moved)}{_axle(pair)})" for pair in pairs)
    met = bool(pairs) and abs(pairs[0].miss_percent) <= MET_PERCENT
    lead = "the nearest pairs are" if met else f"no pair within reach comes within {_MET_POINTS} of it; the nearest are"
    text = (
        f"{head} From {setup_label(result.setup)} a change of {percent(needed)} is needed: {lead} {names}. What may be fitted, and "
        "whether chain and guard have room, the machine's manual decides; gearfit predict says more."
    )
    return Finding("note" if met else "warning", "wish-pairs", text)


def _reached(pair: RankedPair, moved: float) -> str:
    return f"{percent(100 * ((1 + moved / 100) * (1 + pair.change_percent / 100) - 1))} in all"


def _axle(pair: RankedPair) -> str:
    return "" if pair.axle_movement_m is None else f", axle {1000 * pair.axle_movement_m:+.0f} mm".replace("-", "−")


def _doubts(facts: Facts) -> list[Finding]:
    settled, open_still = (
        [text for pair in facts.pairs if (text := _named(facts, pair, of_pair))] for of_pair in (_of_pair, _far_off)
    )
    said = [f"One more ride would settle: {'; '.join(settled)}."] if settled else []
    if open_still:
        said.append(f"{'Open beyond that' if said else 'Open, but not for one more ride'}: {'; '.join(open_still)}.")
    return [Finding("note", "one-more-ride", " ".join(said))] if said else []


def _named(facts: Facts, pair: Pair, of_pair: Callable[[Facts, Pair], list[str]]) -> str:
    """Join the doubts about one pair, whose other setup is named where there are several."""
    doubts = "; ".join(of_pair(facts, pair))
    return f"for {pair.other.setup.name}, {doubts}" if doubts and len(facts.pairs) > 1 else doubts


def _of_pair(facts: Facts, pair: Pair) -> list[str]:
    found = []
    if facts.holds_gearing(pair):
        found += [*_undecided(pair), *_tooth_pairs(pair)]
    return [*found, *_gears(pair), *_timed(facts, pair)]


def _undecided(pair: Pair) -> list[str]:
    change, predicted = pair.comparison.all_gears_change_percent, pair.comparison.predicted_change_percent
    if change is None or not predicted or not (change.contains(0.0) and change.contains(predicted)):
        return []
    times = _times(change, _SHARE_TO_SHOW * abs(predicted))
    return (
        [] if times is None else [f"whether the gearing changed at all ({times} times as many passes in both setups)"]
    )


def _tooth_pairs(pair: Pair) -> list[str]:
    check, change = pair.comparison.sprocket_check, pair.comparison.all_gears_change_percent
    if check is None or change is None or len(check.candidates) < 2 or check.candidates[0].probability >= _SURE:
        return []
    best, second = check.candidates[:2]
    half = _SHARE_TO_SHOW * abs(best.predicted_change_percent - second.predicted_change_percent)
    times = _times(change, half)
    # what a tyre may have done, and what two rides differ by anyway, no number of passes tells from teeth
    if times is None or half < 196 * RIDE_TO_RIDE_SD or check.another_tyre_probability > 1 - _SURE:
        return []
    return [
        f"whether {best.front}/{best.rear} or {second.front}/{second.rear} teeth are fitted ({times} times as many passes; "
        "counting them is quicker)"
    ]


def _times(change: Estimate, half_width: float) -> int | None:
    """How many times as many passes make the interval as narrow as `half_width`; None where no ride can."""
    if half_width <= 0:
        return None
    times = math.ceil(((change.hi95 - change.lo95) / 2 / half_width) ** 2)
    return max(times, 2) if times <= _MOST_TIMES else None


def _gears(pair: Pair) -> list[str]:
    found = []
    odd = [gear.gear for gear in pair.comparison.gears if gear.consistent is False]
    if odd:
        found.append(
            f"whether {gear_list(odd)} really {'differs' if len(odd) == 1 else 'differ'} (hold again in both setups)"
        )
    shown = [{gear.gear for gear in result.gears} for result in (pair.reference, pair.other)]
    for here, there, result in ((shown[0], shown[1], pair.other), (shown[1], shown[0], pair.reference)):
        if there and here - there:
            found.append(f"how {gear_list(sorted(here - there))} moved (not ridden in {result.setup.name})")
    return found


def _timed(facts: Facts, pair: Pair) -> list[str]:
    return [_quicker(facts, span) for span in _undecided_spans(pair) if _can_be_ridden(span)]


def _far_off(facts: Facts, pair: Pair) -> list[str]:
    """Name the spans that take more runs than a rider can be asked for."""
    return [_quicker(facts, span) for span in _undecided_spans(pair) if not _can_be_ridden(span)]


def _undecided_spans(pair: Pair) -> list[SpanComparison]:
    return [
        span for span in pair.comparison.timed_spans if span.difference_s is None or span.difference_s.contains(0.0)
    ]


def _can_be_ridden(span: SpanComparison) -> bool:
    return span.runs_needed_per_setup is not None and span.runs_needed_per_setup <= MOST_RIDDEN


def _quicker(facts: Facts, span: SpanComparison) -> str:
    name = span_name(span, facts.speed_unit)
    name += "," if "," in name else ""
    return f"whether {name} is quicker: {runs_to_settle(span)} in each setup"
