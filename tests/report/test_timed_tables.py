"""The page's tables of compared spans: groups told apart, what they could have shown, what the two directions show."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gearfit.report.tables.timed_tables import timed_tables
from tests.report import example


def test_no_two_groups_have_one_name() -> None:
    spans, *_ = timed_tables(example.found_runs())
    names = [line[0].text.replace("\N{NO-BREAK SPACE}", " ") for line in spans.rows]
    assert names == [
        "0 to 100 km/h, standing start",
        "60 to 100 km/h in third gear",
        "60 to 100 km/h, through the gears from second gear",
        "60 to 100 km/h, by stopwatch",
    ]


def test_what_the_runs_could_have_shown_and_how_many_settle_it() -> None:
    analysis = example.found_runs()
    (span, *_) = analysis.comparisons[0].timed_spans
    assert span.least_shown_s is not None
    assert (span.runs_needed_lo95, span.runs_needed_hi95) == (4, None)  # one difference holds 0, so no end is known
    interval = "4 to over 30"
    spans, table, _ = timed_tables(analysis)
    start = dict(zip(table.head, table.rows[0], strict=True))
    assert span.permutation_p is not None
    assert start["As much by chance [%]"].text == f"{100 * span.permutation_p:.1f}"
    assert start["Least they could show [s]"].text == f"{span.least_shown_s:.2f}"
    needed, foretold = start["Runs for the measured difference"], start["Runs for the predicted one"]
    assert (needed.text, needed.below) == (str(span.runs_needed_per_setup), interval)
    assert (foretold.text, foretold.below) == (
        str(span.runs_for_prediction),
        f"{span.runs_for_prediction_lo95} to over 30",
    )
    start = dict(zip(spans.head, spans.rows[0], strict=True))
    assert start["Runs to settle it"].text == interval
    # every corrected time is nine tenths of the time, and `after` 0.3 s quicker
    assert start["Difference [s]"].text == "−0.3"
    assert float(start["Difference corrected by SAE J1349 [s]"].text.replace("−", "-")) == pytest.approx(
        -0.27, abs=0.03
    )


def test_columns_without_anything_to_say_are_left_out() -> None:
    (table,) = timed_tables(example.two_setups())
    assert table.head == (
        *("Span", "before [s]", "after [s]", "Difference [s]", "Gearing alone predicts [s]", "Runs to settle it"),
    )


def test_nothing_is_said_of_a_prediction_where_there_is_none() -> None:
    made = example.found_runs()
    spans = tuple(
        replace(span, runs_for_prediction=None, predicted_difference_s=None) for span in made.comparisons[0].timed_spans
    )
    bare = replace(made, comparisons=(replace(made.comparisons[0], timed_spans=spans),))
    heads = [timed_tables(analysis)[1].head[-1] for analysis in (made, bare)]
    assert heads == ["Runs for the predicted one", "Runs for the measured difference"]


def test_no_difference_of_times_corrected_by_two_standards() -> None:
    made = example.found_runs()
    setup = made.setups[0].setup
    other = replace(setup, conditions=replace(setup.conditions, correction="ISO 1585"))
    table = timed_tables(replace(made, setups=(replace(made.setups[0], setup=other), made.setups[1])))[0]
    assert not [head for head in table.head if "orrected" in head]


def test_both_ways() -> None:
    table = timed_tables(example.found_runs())[2]
    assert table.title == "Runs both ways"
    assert len(table.rows) == 2  # only the starts have headings, in either setup
    first = [cell.text for cell in table.rows[0]][1:]
    # 6.2 and 6.4 s there, 6.6 and 6.8 s back: 2 / (1/6.3 + 1/6.7) = 6.494
    assert first == ["before", "2 runs", "2 runs", "6.49", "−0.4"]


@pytest.mark.parametrize("unit", ["kmh", "mph"])
def test_several_setups_against_one_reference(unit: str) -> None:
    analysis = replace(example.three_setups(), speed_unit=unit)
    (table,) = timed_tables(analysis)
    assert [line[1].text for line in table.rows][:3] == [
        "before",
        "after",
        "motorway set with the larger front sprocket",
    ]
    assert table.rows[0][3].text == "reference"
