"""The swap on paper beside runs: only where it is ridden as they were."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.comparison.timed_spans import compare_spans
from gearfit.findings.analysis import analyse
from gearfit.fitting.ratios.quantiles import estimate
from gearfit.records.results import Comparison, How, SpanComparison, SpanSummary
from gearfit.records.thrust_results import SpanPrediction, SwapOnPaper
from gearfit.thrust.compare import predicted_difference, with_swap
from gearfit.thrust.swap import Asked
from gearfit.timed.asked import read_span
from tests.comparison.test_found_runs import run, through
from tests.thrust.test_from_a_ride import analysed, predicted

CHANGE = estimate(-0.2, 0.05, np.inf)
#: Both starts on paper pass 10 m/s in first gear.
SWAP = replace(
    predicted(False),
    spans=(
        SpanPrediction(10.0, 25.0, "through the gears", (), None, None, CHANGE, 2, 2),
        SpanPrediction(10.0, 25.0, "roll-on", (3,), None, None, estimate(-0.1, 0.05, np.inf), 0, 0),
    ),
)


def test_runs_that_begin_in_another_gear_than_a_start_has_there_are_not_predicted() -> None:
    assert predicted_difference(SWAP, through(4.0, 1, 2, 3)) == CHANGE
    assert predicted_difference(SWAP, through(4.0)) == CHANGE
    assert predicted_difference(SWAP, through(4.0, 2, 3)) is None
    no_start = replace(SWAP, other=replace(SWAP.other, course=None))
    assert predicted_difference(no_start, through(4.0, 1, 2, 3)) is None
    assert predicted_difference(SWAP, run(4.0, how="roll-on", gears=(3,))) == SWAP.spans[1].difference_s


def test_runs_begun_in_several_gears_ask_for_one_prediction() -> None:
    folder, analysis = analysed(False)
    runs = [through(4.0, 1, 2, 3), through(6.0, 4, 5), run(5.0, how="roll-on", gears=(3,))]
    compared = Comparison("before", "after", -6.7, (), None, (), compare_spans(runs, runs))
    assert len(compared.timed_spans) == 3
    swap = with_swap(folder.bike, folder.setups[0], analysis.setups[0], compared).swap
    assert swap is not None
    asked = [(span.how, span.gears) for span in swap.spans if span.from_mps == 10.0]
    assert sorted(asked) == [("roll-on", (3,)), ("through the gears", ())]


Manner = tuple[How, tuple[int, ...]]
UNKNOWN: Manner = ("", ())
START: Manner = ("standing start", ())
THIRD: Manner = ("roll-on", (3,))
FIFTH: Manner = ("roll-on", (5,))


def on_paper(*manners: Manner) -> SwapOnPaper:
    """One span, ridden in several ways: the first is predicted to change by 1 s, the second by 2 s, and so on."""
    spans = []
    for change_s, (how, gears) in enumerate(manners, start=1):
        found = estimate(float(change_s), 0.1, np.inf)
        spans.append(SpanPrediction(10.0, 25.0, how, gears, found, found, found, 1, 1))
    return replace(predicted(False), spans=tuple(spans))


@pytest.mark.parametrize(
    ("ridden", "manners", "expected_s"),
    [
        (UNKNOWN, (THIRD, FIFTH, UNKNOWN), 3.0),
        (UNKNOWN, (THIRD, START), 2.0),
        (UNKNOWN, (THIRD, FIFTH), None),
        (UNKNOWN, (THIRD,), 1.0),
        (UNKNOWN, (), None),
        (FIFTH, (THIRD, FIFTH, UNKNOWN), 2.0),
        (FIFTH, (THIRD, UNKNOWN), None),
        (START, (UNKNOWN,), None),
    ],
)
def test_a_run_gets_the_prediction_of_its_manner(
    ridden: Manner, manners: tuple[Manner, ...], expected_s: float | None
) -> None:
    one = replace(run(6.0), from_mps=10.0, to_mps=25.0, how=ridden[0], gears=ridden[1])
    found = predicted_difference(on_paper(*manners), one)
    assert (None if found is None else found.value) == expected_s


def test_each_span_is_predicted_once_and_those_asked_for_though_never_timed() -> None:
    folder, analysis = analysed(False)
    side = SpanSummary(1, 6.0, None)
    timed = [(0.0, START), (0.0, UNKNOWN), (10.0, THIRD), (10.0, UNKNOWN)]
    spans = tuple(SpanComparison(low, 25.0, side, side, None, None, None, "", *manner) for low, manner in timed)
    compared = Comparison("before", "after", -6.7, (), None, (), spans)
    asked = (Asked(0.0, 25.0), Asked(0.0, 22.0), Asked(10.0, 25.0))
    swap = with_swap(folder.bike, folder.setups[0], analysis.setups[0], compared, asked).swap
    assert swap is not None
    found = [(span.from_mps, span.to_mps, span.how) for span in swap.spans]
    assert found == [
        (0.0, 25.0, "standing start"),
        (10.0, 25.0, "roll-on"),
        (10.0, 25.0, ""),
        (0.0, 22.0, ""),
    ]
    assert swap.spans[3].difference_s is not None


def test_a_span_asked_for_twice_is_timed_and_predicted_once() -> None:
    """60 mph is 96.56 km/h; nobody rode up to 150 km/h."""
    folder, _ = analysed(False)
    (before,) = folder.setups
    after = replace(before, setup=replace(before.setup, name="after"))
    two = replace(folder, bike=replace(folder.bike, setups=(before.setup, after.setup)), setups=(before, after))
    once, twice = (
        analyse(two, spans=[read_span(text) for text in asked])
        for asked in (("0-60mph", "0-150kmh"), ("0-60mph", "0-60mph", "0-150kmh", "0-96.6kmh", "0-150kmh"))
    )
    n = len(once.setups[0].timed_spans)
    assert n > 1
    assert twice.setups[0].timed_spans == once.setups[0].timed_spans
    compared = [found.comparisons[0] for found in (once, twice)]
    assert [[span.reference.n for span in each.timed_spans] for each in compared] == [[n], [n]]
    assert [len(each.swap.spans) for each in compared if each.swap is not None] == [2, 2]
