"""The swap on paper where people and programs see it: figures, finding, terminal, results.json."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gearfit.comparison.shift import Shift
from gearfit.findings.facts import Facts, Pair
from gearfit.findings.swap import find, span_words, why
from gearfit.records.recording import RideFolder
from gearfit.records.results import Analysis, Comparison, Estimate, TimedSpan
from gearfit.records.thrust_results import HardestRiding, SpanPrediction
from gearfit.report.figures import speed_course, thrust_per_gear
from gearfit.report.figures.style import svg_bytes
from gearfit.report.files.results_json import results_text
from gearfit.wording.ride_swap_text import CAUTION, ride_swap_lines
from gearfit.wording.swap_words import assumed, shifting
from tests.report import example
from tests.thrust.test_from_a_ride import predicted


def with_swap() -> Analysis:
    """The report's example with the swap of the simulated ride."""
    analysis = example.two_setups()
    swap = replace(predicted(False), reference=replace(predicted(False).reference, name="before"))
    compared: Comparison = replace(analysis.comparisons[0], swap=swap)
    return replace(analysis, comparisons=(compared,))


def test_thrust_figure_holds_every_gear_and_the_resistance() -> None:
    figure = thrust_per_gear.draw(with_swap())
    assert figure is not None
    lines = figure.axes[0].get_lines()
    swap = predicted(False)
    drawn = [np.asarray(line.get_ydata()).tolist() for line in lines]
    for gearing in (swap.reference, swap.other):
        for thrust in gearing.thrust:
            assert list(thrust.thrust_n) in drawn
    assert list(swap.resistance_n) in drawn
    assert svg_bytes(figure) == svg_bytes(figure)


def test_the_caption_explains_the_marks_that_are_drawn_and_no_others() -> None:
    analysis = with_swap()
    (compared,) = analysis.comparisons
    assert compared.swap is not None
    sides = [
        replace(side, best_shift_mps=(None,), top_mps=None) for side in (compared.swap.reference, compared.swap.other)
    ]
    plain = replace(compared.swap, reference=sides[0], other=sides[1])
    marked = replace(plain, other=replace(sides[1], best_shift_mps=(12.0,), top_mps=40.0))
    for swap, told in ((plain, False), (marked, True)):
        said = thrust_per_gear.caption(replace(analysis, comparisons=(replace(compared, swap=swap),)))
        assert ("An open mark is the speed from which the next gear pulls harder" in said) is told
        assert ("Dotted: the speed at which thrust meets the resistance." in said) is told
        assert said.endswith(" Figures for a closed track.")


def test_course_figure_marks_every_shift() -> None:
    figure = speed_course.draw(with_swap())
    assert figure is not None
    drawn = [np.asarray(line.get_xdata()).tolist() for line in figure.axes[0].get_lines()]
    for gearing in (predicted(False).reference, predicted(False).other):
        assert gearing.course is not None
        assert list(gearing.course.shift_s) in drawn
        assert len(gearing.course.shift_s) >= 3
    words = speed_course.alt(with_swap())
    assert words.startswith("On paper, riding as hard as was seen, from rest to 121 km/h takes before ")


def test_no_figure_without_a_ride_at_full_throttle() -> None:
    assert thrust_per_gear.draw(example.two_setups()) is None
    assert speed_course.draw(example.two_setups()) is None


def test_results_hold_the_prediction() -> None:
    found = json.loads(results_text(with_swap()))["comparison"]["swap_on_paper"]
    span = predicted(False).spans[0]
    assert span.difference_s is not None
    assert found["spans"][0]["difference_s"]["value"] == pytest.approx(span.difference_s.value, rel=1e-8)
    assert found["starts"] == 5
    assert found["held_back"] is False
    assert found["held_back_chance"] == pytest.approx(predicted(False).held_back_chance, abs=1e-8)
    empty = json.loads(results_text(example.two_setups()))["comparison"]
    assert (empty["swap_on_paper"], empty["hardest_riding"]) == (None, None)


@pytest.mark.parametrize("hardest", [HardestRiding(9, 4, 7600.0, 9500.0, False), HardestRiding(3, 1, 0.0, None, False)])
def test_results_hold_the_hardest_riding_where_it_is_no_full_throttle(hardest: HardestRiding) -> None:
    analysis = example.two_setups()
    compared = replace(analysis.comparisons[0], hardest=hardest)
    found = json.loads(results_text(replace(analysis, comparisons=(compared,))))["comparison"]
    assert found["swap_on_paper"] is None
    assert found["hardest_riding"] == {
        "stretches": hardest.stretches,
        "gears": hardest.gears,
        "reached_rpm": hardest.reached_rpm if hardest.gears > 1 else None,
        "limit_rpm": hardest.limit_rpm,
        "reaches": False,
    }


@pytest.mark.parametrize(
    ("engine", "gears", "by_starts", "ending"),
    [
        (
            True,
            True,
            False,
            "too little at full throttle from first gear up, or was recorded less often than 5 times a second.",
        ),
        (True, True, True, "; its gears were found from starts alone: log some minutes of ordinary riding as well."),
        (True, False, False, "no gears were found: log some steady riding in each gear as well, not starts alone."),
        (False, True, False, "; their logs hold no engine speed, which alone tells gears and shifts."),
        (False, False, False, "; their logs hold no engine speed, which alone tells gears and shifts."),
    ],
)
def test_what_kept_the_swap_from_being_predicted(engine: bool, gears: bool, by_starts: bool, ending: str) -> None:
    analysis = example.two_setups()
    samples = analysis.setups[0].samples
    if not engine:
        samples = samples.assign(engine_rpm=np.nan)
    run = TimedSpan(str(samples["file"].iloc[0]), 0.0, 27.8, 5.0, Estimate(6.0, 0.03, 5.94, 6.06), kind="ride")
    found_gears = analysis.setups[0].gears if gears else ()
    before = replace(
        analysis.setups[0], timed_spans=(run,), gears=found_gears, gears_by_starts=by_starts, samples=samples
    )
    compared = replace(analysis.comparisons[0], swap=None)
    facts = Facts(RideFolder(Path("."), analysis.bike, True, (), ()), "kmh", analysis.setups, (), (), ())
    shifted = Shift((), None, np.nan, np.nan, np.nan, None)
    (found,) = find(facts, Pair(before, analysis.setups[1], shifted, compared))
    assert (found.severity, found.code) == ("note", "swap-not-said")
    assert found.text.startswith("No times on paper from before, although runs were found; ")
    assert found.text.endswith(ending)
    hand_timed = replace(before, timed_spans=(replace(run, kind="stopwatch"),))
    untold = find(facts, Pair(hand_timed, analysis.setups[1], shifted, compared))
    assert [note.text for note in untold] == ([f"No times on paper from before{ending}"] if by_starts else [])


def span(shifts: int, how: str = "", gears: tuple[int, ...] = ()) -> SpanPrediction:
    found = Estimate(-0.12, 0.03, -0.18, -0.06)
    return SpanPrediction(0.0, 100 / 3.6, how, gears, found, found, found, 2, 2 + shifts)


@pytest.mark.parametrize(
    ("given", "ending"),
    [
        (span(0), ""),
        (span(1), ", with 1 more change of gear"),
        (span(-1), ", with 1 fewer change of gear"),
        (span(-2), ", with 2 fewer changes of gear"),
        (span(0, "roll-on", (4,)), ""),
        (span(1, "through the gears"), ", with 1 more change of gear"),
        (span(0, "standing start"), ""),
    ],
)
def test_words_of_a_span(given: SpanPrediction, ending: str) -> None:
    gear = {"roll-on": " in fourth gear", "through the gears": " through the gears"}.get(given.how, "")
    said = span_words(given, "kmh").replace("\N{NO-BREAK SPACE}", " ")
    interval = "(95 % interval -0.18 to -0.06 s)"
    assert said.replace("\N{MINUS SIGN}", "-") == f"from 0 to 100 km/h{gear} by -0.12 s {interval}{ending}"


def test_why_names_thrust_speed_and_what_held_first_gear_back() -> None:
    assert "thrust at the wheel +7.1 % in each gear" in why(predicted(False))
    assert "First gear pulled less than the engine could give" in why(predicted(True))
    assert "First gear pulled less" not in why(predicted(False))


@pytest.mark.parametrize(("lifts", "word"), [(True, "centre of gravity"), (False, "grip of the")])
def test_what_is_stated_and_limits_the_thrust_is_named(lifts: bool, word: str) -> None:
    capped = replace(predicted(False), lift_capped=lifts, grip_capped=not lifts)
    for said in (why(capped), " ".join(ride_swap_lines(capped, "kmh"))):
        assert word in said
    assert word not in why(predicted(False))


def test_times_are_never_said_to_be_at_full_throttle() -> None:
    """No log holds the throttle: everywhere they are of the hardest riding seen, and the change leads."""
    analysis, lines = with_swap(), ride_swap_lines(predicted(False), "kmh")
    told = [why(predicted(False)), " ".join(lines), thrust_per_gear.caption(analysis), speed_course.caption(analysis)]
    for said in told:
        assert "hardest riding seen" in said
        assert "full throttle" not in said.lower()
    assert lines[0].index("difference") < lines[0].index("now s")


def test_terminal_text_ends_with_the_caution() -> None:
    words = " ".join(ride_swap_lines(predicted(False), "kmh"))
    assert words.endswith(f"{CAUTION}, and how hard a start front wheel and grip allow, the figures do not know.")
    assert ride_swap_lines(None, "kmh") == []


@pytest.mark.parametrize("lifts", [True, False])
def test_what_bounds_the_figures_is_not_called_unknown(lifts: bool) -> None:
    words = " ".join(ride_swap_lines(replace(predicted(False), lift_capped=lifts, grip_capped=not lifts), "kmh"))
    assert "than was ridden." in words
    assert words.endswith(f"{CAUTION}.")


@pytest.mark.parametrize(
    ("runs", "drag", "shifts", "taken"),
    [
        (5, "coasting", "shifting at 9200 rpm in 0.34 s as ridden", ""),
        (1, "stated", "shifting at 9200 rpm in 0.34 s as in the one run", ""),
        (0, "coasting", "", "Assumed: shifts at 9200 rpm (92 % of the limit) in 0.34 s."),
        (
            0,
            "assumed",
            "",
            "Assumed: shifts at 9200 rpm (92 % of the limit) in 0.34 s; the usual drag of a machine of this mass, for "
            "nobody coasted in neutral.",
        ),
    ],
)
def test_what_is_assumed_is_said(runs: int, drag: str, shifts: str, taken: str) -> None:
    swap = replace(
        predicted(False), shift_runs=runs, used_shift_rpm=9200.0, used_shift_s=0.34, limit_rpm=1e4, drag_from=drag
    )
    assert shifting(swap) == shifts
    assert assumed(swap) == taken
    for said in (why(swap), " ".join(ride_swap_lines(swap, "kmh"))):
        assert shifts in said
        assert taken in said
        assert ("Assumed" in said) is bool(taken)


def test_a_span_that_is_not_reached_is_named() -> None:
    swap = predicted(False)
    lost = replace(span(0), to_mps=50.0, reference_s=None, other_s=None, difference_s=None)
    words = " ".join(ride_swap_lines(replace(swap, spans=(*swap.spans, lost)), "kmh"))
    assert "Not reached on paper: 0 to 180 km/h." in words.replace("\N{NO-BREAK SPACE}", " ")
    assert "Not reached" not in " ".join(ride_swap_lines(swap, "kmh"))
