"""Whether it is quicker, and by more than the scatter of the runs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Final

import numpy as np

from gearfit.comparison.timed_spans import ASSUMED_RUN_RELATIVE_SD
from gearfit.findings.facts import Facts, Pair
from gearfit.findings.words import seconds_with_interval
from gearfit.records.results import Finding, How, LeftOutRun, SetupResult, SpanComparison, SpanSummary
from gearfit.records.words import count, gear_name, runs_words, span_label, span_name
from gearfit.timed.asked import Span, each_once

#: Shares of runs in one direction that differ by more than this between setups: wind and slope do not cancel.
_ONE_SIDED: Final = 0.34
#: Runs over several spans are one where they begin within this of each other, and from higher speeds within this of a
#: start, s (ours).
_SAME_RUN_S: Final = 2.0
_ON_THE_WAY_S: Final = 10.0
_CAUTION: Final = (
    "Full-throttle runs belong on a closed road or track, at legal speed: nobody watches instruments, and a helper with "
    "a stopwatch stands off the road."
)


def find(facts: Facts, pair: Pair) -> list[Finding]:
    """Say of each timed span whether the setups differ by more than the scatter, and what the runs lack."""
    spans = pair.comparison.timed_spans
    found = [_one(facts, pair, span) for span in spans]
    found += [finding for span in spans for finding in _directions(facts, pair, span)]
    return [*found, *_one_way(facts, spans), *_ridden_unlike(facts, pair), *_unshared(facts, pair)]


def find_runs(facts: Facts) -> list[Finding]:
    """Say which runs were found in the rides and which of them do not count."""
    found = [finding for result in facts.results for finding in (*_slipped(facts, result), *_left_out(result))]
    timed = any(run.kind == "ride" for result in facts.results for run in result.timed_spans)
    return [*found, Finding("note", "run-caution", _CAUTION)] if found or timed else []


def _one(facts: Facts, pair: Pair, found: SpanComparison) -> Finding:
    name = span_name(found, facts.speed_unit)
    a, b = pair.comparison.reference, pair.comparison.other
    first, second = found.reference, found.other
    means = f"{name}: {first.mean_s:.2f} s {a} ({count(first.n, 'run')}), {second.mean_s:.2f} s {b} ({count(second.n, 'run')})"
    if found.difference_s is None:
        return Finding(
            "warning",
            "timed-too-few",
            f"{means}. A single run in a setup is no comparison: its scatter is unknown. {_taken(found, a, b)} "
            f"{_needed(found)}{_shown(found)}",
        )
    difference = seconds_with_interval(found.difference_s)
    if found.difference_s.contains(0.0):
        return Finding(
            "note",
            "timed-within-scatter",
            f"{means}. The difference, {difference}, is not more than the scatter of the runs. {_needed(found)}"
            f"{_shown(found)}",
        )
    word = "quicker" if found.difference_s.value < 0 else "slower"
    return Finding(
        "note",
        "timed-differs",
        f"{means}. {b} is {word}: {difference}, more than the scatter of the runs explains.{_chance(found)}"
        f"{_shown(found)}",
    )


def _taken(found: SpanComparison, reference: str, other: str) -> str:
    """Say which scatter is taken for that of a single run."""
    if found.reference.n == found.other.n == 1:
        return f"It is taken to be {100 * ASSUMED_RUN_RELATIVE_SD:.0f} % of the time, which is assumed."
    return f"It is taken to be that of the runs in {other if found.reference.n == 1 else reference}."


def _needed(found: SpanComparison) -> str:
    return f"To settle it takes {runs_to_settle(found)} in each setup."


def runs_to_settle(found: SpanComparison) -> str:
    """Write how many runs show the measured difference, with their 95 % interval."""
    return runs_words(found.runs_needed_per_setup, found.runs_needed_lo95, found.runs_needed_hi95)


def _shown(found: SpanComparison) -> str:
    """Say what these runs could have shown, and how many would settle the prediction."""
    words = ""
    if found.least_shown_s is not None and found.difference_s is None:
        words = f" Runs like these could not have shown a difference below {found.least_shown_s:.2f} s."
    elif found.least_shown_s is not None:
        words = f" Runs like these show a difference of {found.least_shown_s:.2f} s four times out of five."
    if found.predicted_difference_s is not None:
        predicted = abs(found.predicted_difference_s.value)
        words += (
            f" To show the {predicted:.{2 if predicted >= 0.005 else 3}f} s that the gearing predicts takes "
            f"{_runs_for_prediction(found)} a setup."
        )
    return words


def _runs_for_prediction(found: SpanComparison) -> str:
    return runs_words(found.runs_for_prediction, found.runs_for_prediction_lo95, found.runs_for_prediction_hi95)


def _chance(found: SpanComparison) -> str:
    if found.permutation_p is None:
        return ""
    share = 100 * found.permutation_p
    if found.permutation_p <= 0.05:
        return f" Dealt out to the setups at random, the runs would differ so much in {share:.1f} % of cases."
    return f" But dealt out to the setups at random, so few runs differ so much in {share:.0f} % of cases: take more."


def _directions(facts: Facts, pair: Pair, found: SpanComparison) -> list[Finding]:
    first, second = _share_there(found.reference), _share_there(found.other)
    if first is None or second is None or abs(first - second) < _ONE_SIDED:
        return []
    sides = ((found.reference, pair.comparison.reference), (found.other, pair.comparison.other))
    ways = ", ".join(f"{name} {side.there} one way and {side.back} the other" for side, name in sides)
    text = f"{span_name(found, facts.speed_unit)}: {ways}. Wind and slope do not cancel: ride both ways alike in each setup."
    return [Finding("warning", "run-directions", text)]


def _one_way(facts: Facts, spans: Sequence[SpanComparison]) -> list[Finding]:
    """Say where every run of both setups went the same way."""
    names = [
        span_name(span, facts.speed_unit)
        for span in spans
        if span.difference_s is not None and _share_there(span.reference) == _share_there(span.other) == 1.0
    ]
    if not names:
        return []
    text = (
        f"{'; '.join(names)}: all runs went one way. Wind and slope do not cancel, and other wind on the other day is part "
        "of the difference: ride both ways."
    )
    return [Finding("note", "run-one-way", text)]


def _ridden_unlike(facts: Facts, pair: Pair) -> list[Finding]:
    """Say which spans were ridden in both setups, but in no way that both have."""
    sides = [[run for run in side.timed_spans if run.kind == "ride"] for side in (pair.reference, pair.other)]
    found = []
    for span in each_once(Span(run.from_mps, run.to_mps) for run in sides[0]):
        over = [[run for run in side if Span(run.from_mps, run.to_mps).same_as(span)] for side in sides]
        ways = [sorted({(run.how, run.gears_alike) for run in runs}) for runs in over]
        if ways[0] and ways[1] and not set(ways[0]) & set(ways[1]):
            told = [
                f"{side} {' and '.join(_way(*way) for way in each)}"
                for each, side in zip(ways, (pair.comparison.reference, pair.comparison.other), strict=True)
            ]
            text = (
                f"{span_label(span.from_mps, span.to_mps, facts.speed_unit)}: {told[0]}, {told[1]}. Runs not ridden "
                "alike are not compared: begin in the same gear in both setups."
            )
            found.append(Finding("note", "run-not-alike", text))
    return found


def _unshared(facts: Facts, pair: Pair) -> list[Finding]:
    """Say which spans were timed by hand in one of the two setups alone, so that they compare nothing."""
    sides = [
        each_once(Span(run.from_mps, run.to_mps) for run in side.timed_spans if run.kind == "stopwatch")
        for side in (pair.reference, pair.other)
    ]
    names = (pair.comparison.reference, pair.comparison.other)
    alone = [
        f"{span_label(span.from_mps, span.to_mps, facts.speed_unit)} in {name}"
        for name, own, others in zip(names, sides, sides[::-1], strict=True)
        for span in own
        if all(sides) and not any(span.same_as(other) for other in others)
    ]
    if not alone:
        return []
    text = f"Timed in one setup alone, and so not compared: {'; '.join(alone)}. Time the same span in both."
    return [Finding("note", "run-span-unshared", text)]


def _way(how: How, gears: tuple[int, ...]) -> str:
    if not gears:
        return how
    return f"in {gear_name(gears[0])}" if how == "roll-on" else f"{how} from {gear_name(gears[0])}"


def _share_there(summary: SpanSummary) -> float | None:
    n = summary.there + summary.back
    return summary.there / n if n else None


def _slipped(facts: Facts, result: SetupResult) -> list[Finding]:
    """Name the stopwatch times that cannot be right."""
    return [
        Finding(
            "warning",
            "run-misread",
            f"{result.setup.name}, {span_label(run.from_mps, run.to_mps, facts.speed_unit)} in {run.source}: {run.reason}. "
            "It does not count; put it right in the file.",
        )
        for run in result.left_out_runs
        if run.start_s is None
    ]


def _left_out(result: SetupResult) -> list[Finding]:
    runs = _each_run(result.left_out_runs)
    if not runs:
        return []
    reasons = Counter(reason for run in runs for reason in {_kind_of(each.reason) for each in run})
    listed = ", ".join(f"{number} {reason}" for reason, number in sorted(reasons.items()))
    spans = sum(map(len, runs))
    together = f", in {spans} spans together" if spans > len(runs) else ""
    verb = "does" if len(runs) == 1 else "do"
    text = f"{result.setup.name}: {count(len(runs), 'run')} found in the ride {verb} not count{together} ({listed})."
    return [Finding("note", "run-left-out", text)]


def _each_run(left_out: Sequence[LeftOutRun]) -> list[list[LeftOutRun]]:
    """Bring together what was left out of one run over several spans: begun together, or on the way of a start."""
    runs: list[list[LeftOutRun]] = []
    timed = [(run.source, run.start_s, run) for run in left_out if run.start_s is not None]
    begun = ("", -np.inf, 0.0)
    for source, start_s, run in sorted(timed, key=lambda each: each[:2]):
        within_s = _ON_THE_WAY_S if begun[2] == 0 < run.from_mps else _SAME_RUN_S
        if source == begun[0] and start_s - begun[1] < within_s:
            runs[-1].append(run)
        else:
            runs.append([run])
            begun = (source, start_s, run.from_mps)
    return runs


def _kind_of(reason: str) -> str:
    return reason.split(":")[0].split(" at ")[0]
