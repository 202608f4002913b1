"""Timed spans in words: what was compared, which runs do not count, which ways they went."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gearfit.comparison.shift import shift
from gearfit.comparison.timed_spans import compare_spans
from gearfit.findings import timed
from gearfit.findings.facts import Facts, Pair
from gearfit.fitting.ratios.quantiles import estimate
from gearfit.machine.bike import Bike
from gearfit.records.recording import RideFolder
from gearfit.records.results import (
    Comparison,
    Estimate,
    Finding,
    How,
    LeftOutRun,
    SpanComparison,
    SpanSummary,
    TimedSpan,
)
from gearfit.records.words import span_name
from tests.findings.conftest import Analyse, sheet, speeds_kmh

SPAN = SpanComparison(60 / 3.6, 100 / 3.6, SpanSummary(3, 5.0, 0.1), SpanSummary(3, 5.1, 0.1), None, None, None)

Say = Callable[..., list[Finding]]
N, S = 10.0, 190.0


def run(
    time_s: float, how: How = "standing start", gears: tuple[int, ...] = (), heading_deg: float | None = None
) -> TimedSpan:
    low = 0.0 if how == "standing start" else 60 / 3.6
    time = estimate(time_s, 0.03, np.inf)
    return TimedSpan("r.gpx", low, 100 / 3.6, 1.0, time, "ride", how, gears, heading_deg=heading_deg)


@pytest.fixture
def say(analyse: Analyse) -> Say:
    """Compare runs, with a prediction where one is given, and say what was found."""
    before, after = analyse({"before/a.csv": sheet(speeds_kmh(16)), "after/a.csv": sheet(speeds_kmh(15))}).setups

    def say(
        first: Sequence[TimedSpan], second: Sequence[TimedSpan], predicted: Estimate | None = None
    ) -> list[Finding]:
        spans = compare_spans(first, second, lambda _: predicted)
        sides = replace(before, timed_spans=tuple(first)), replace(after, timed_spans=tuple(second))
        compared = Comparison("before", "after", None, (), None, (), spans)
        pair = Pair(*sides, shift(None, None, None), compared)
        facts = Facts(RideFolder(Path(), Bike(), True, (), ()), "kmh", sides, (), (pair,))
        said = timed.find(facts, pair)
        return [replace(finding, text=finding.text.replace("\N{NO-BREAK SPACE}", " ")) for finding in said]

    return say


def texts(said: list[Finding], code: str) -> list[str]:
    return [finding.text for finding in said if finding.code == code]


def ridden(ways: Sequence[float]) -> list[TimedSpan]:
    return [run(5.0 + 0.05 * k, heading_deg=way) for k, way in enumerate(ways)]


def test_runs_one_way_before_and_the_other_after_are_warned_of(say: Say) -> None:
    (text,) = texts(say(ridden([N] * 4), ridden([S] * 4)), "run-directions")
    assert text == (
        "0 to 100 km/h, standing start: before 4 one way and 0 the other, after 0 one way and 4 the other. Wind and "
        "slope do not cancel: ride both ways alike in each setup."
    )
    assert texts(say(ridden([N] * 4 + [S]), ridden([S] * 4 + [N])), "run-directions")


def test_the_same_shares_are_not_warned_of_whichever_way_came_first(say: Say) -> None:
    assert [f.code for f in say(ridden([N, S, S, S, S]), ridden([S, S, S, S, N]))] == ["timed-within-scatter"]


def test_runs_all_one_way_are_noted(say: Say) -> None:
    said = say(ridden([N] * 4), ridden([N] * 4))
    (text,) = texts(said, "run-one-way")
    assert text == (
        "0 to 100 km/h, standing start: all runs went one way. Wind and slope do not cancel, and other wind on the "
        "other day is part of the difference: ride both ways."
    )
    assert {finding.severity for finding in said} == {"note"}
    assert not texts(say(ridden([N] * 4), [run(5.0), run(5.1)]), "run-one-way")


def test_runs_begun_in_different_gears_are_told_apart(say: Say) -> None:
    sides = [[run(low + k, "through the gears", (g, g + 1)) for g in (2, 4) for k in (0.0, 0.1)] for low in (4.0, 5.0)]
    assert [finding.text.split(":")[0] for finding in say(*sides)] == [
        "60 to 100 km/h, through the gears from second gear",
        "60 to 100 km/h, through the gears from fourth gear",
    ]


def test_a_span_ridden_in_no_way_that_both_have_is_named(say: Say) -> None:
    before = [run(5.0, "through the gears", (2, 3)), run(5.9, "roll-on", (4,))]
    after = [run(5.0, "through the gears", (3, 4))]
    (said,) = say(before, after)
    assert (said.severity, said.code, said.text) == (
        "note",
        "run-not-alike",
        "60 to 100 km/h: before in fourth gear and through the gears from second gear, after through the gears from "
        "third gear. Runs not ridden alike are not compared: begin in the same gear in both setups.",
    )
    assert not texts(say(before, [*after, run(6.1, "roll-on", (4,))]), "run-not-alike")
    assert not texts(say(before, [run(5.0)]), "run-not-alike")


def left_out(*runs: tuple[float, float, str], source: str = "r.gpx") -> list[LeftOutRun]:
    return [LeftOutRun(source, low / 3.6, 100 / 3.6, start_s, None, reason) for low, start_s, reason in runs]


@pytest.mark.parametrize(
    ("runs", "text"),
    [
        (
            left_out(*((low, begun + 0.05 * low, "aborted at 83 km/h") for begun in (6.0, 40.0) for low in (0, 0, 60))),
            "before: 2 runs found in the ride do not count, in 6 spans together (2 aborted).",
        ),
        (
            left_out((0, 6.0, "aborted at 83 km/h"), (60, 30.0, "part throttle: 70 % of the hardest acceleration")),
            "before: 2 runs found in the ride do not count (1 aborted, 1 part throttle).",
        ),
        (
            left_out((0, 6.0, "aborted at 83 km/h"), (0, 6.4, "interrupted: a break")),
            "before: 1 run found in the ride does not count, in 2 spans together (1 aborted, 1 interrupted).",
        ),
        (
            left_out((60, 6.0, "interrupted: a break")) + left_out((60, 6.0, "interrupted: a break"), source="s.csv"),
            "before: 2 runs found in the ride do not count (2 interrupted).",
        ),
    ],
)
def test_runs_left_out_are_counted_once_for_all_spans(analyse: Analyse, runs: list[LeftOutRun], text: str) -> None:
    (before,) = analyse({"before/a.csv": sheet(speeds_kmh(16))}).setups
    result = replace(before, left_out_runs=tuple(runs))
    facts = Facts(RideFolder(Path(), Bike(), True, (), ()), "kmh", (result,), (), ())
    assert texts(timed.find_runs(facts), "run-left-out") == [text]


@pytest.mark.parametrize(
    ("predicted_s", "ending"),
    [
        (
            -0.15,
            "To show the 0.15 s that the gearing predicts takes about 9 runs (4 to over 30) a setup.",
        ),
        (
            0.004,
            "To show the 0.004 s that the gearing predicts takes more runs than anyone would ride (over 30) a setup.",
        ),
    ],
)
def test_the_prediction_is_settled_by_so_many_runs(say: Say, predicted_s: float, ending: str) -> None:
    """Scatter 0.1 s: 2 (2.12 + 0.86)^2 (0.1/0.15)^2 = 7.9 with 16 degrees of freedom, so 9 at most.

    Single runs: 3 % of 5 s, so (1.96 + 0.84) 0.15 2^0.5 = 0.59 s.
    """
    said = say([run(5.0), run(5.1), run(5.2)], [run(5.3), run(5.1), run(5.2)], estimate(predicted_s, 0.02, np.inf))
    assert said[0].text.endswith(ending)
    alone = say([run(5.0)], [run(5.1)], estimate(predicted_s, 0.02, np.inf))
    assert "Runs like these could not have shown a difference below 0.59 s." in alone[0].text
    assert "that the gearing predicts takes" in alone[0].text


def test_a_difference_too_small_to_show_says_so(say: Say) -> None:
    (said,) = say([run(5.0), run(5.1), run(5.2)], [run(5.0), run(5.1), run(5.2)])
    assert "To settle it takes more runs than anyone would ride (over 30; at best 8) in each setup." in said.text


def test_runs_over_one_span_that_were_not_ridden_alike_have_names_of_their_own() -> None:
    spans = [
        replace(SPAN, kind="ride", how="roll-on", gears=(3,)),
        replace(SPAN, kind="ride", how="through the gears", gears=(2,)),
        replace(SPAN, kind="ride", how="through the gears", gears=(3,)),
        replace(SPAN, kind="ride", how="through the gears"),
        SPAN,
        replace(SPAN, kind="ride and stopwatch"),
        replace(SPAN, kind="ride", how="standing start", from_mps=0.0),
    ]
    assert [span_name(span, "kmh").replace("\N{NO-BREAK SPACE}", " ") for span in spans] == [
        "60 to 100 km/h in third gear",
        "60 to 100 km/h, through the gears from second gear",
        "60 to 100 km/h, through the gears from third gear",
        "60 to 100 km/h, through the gears",
        "60 to 100 km/h, by stopwatch",
        "60 to 100 km/h, ride and stopwatch",
        "0 to 100 km/h, standing start",
    ]
