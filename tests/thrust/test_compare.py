"""The swap on paper beside runs: only where it is ridden as they were."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gearfit.comparison.timed_spans import compare_spans
from gearfit.fitting.quantiles import estimate
from gearfit.results import Comparison
from gearfit.thrust.compare import predicted_difference, with_swap
from gearfit.thrust_results import SpanPrediction
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
