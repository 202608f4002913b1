"""The speedometer in figure, tables and card, read from what was drawn and written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from gearfit.records.results import Analysis
from gearfit.report.figures import speedometer_error
from gearfit.report.page.page import page_text
from gearfit.report.tables.speedometer_tables import dash_card, speedometer_tables
from gearfit.units import from_mps
from tests.report import example


def before_and_after() -> Analysis:
    """Two instruments, in mph; one reading of each set aside."""
    analysis = example.sheet_only()
    before, after = analysis.setups
    return replace(analysis, setups=(replace(before, speedometer=example.speedometer(0.97, "outside")), after))


def points(line: Line2D) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Coordinates of a drawn line."""
    return np.asarray(line.get_xdata(), dtype=np.float64), np.asarray(line.get_ydata(), dtype=np.float64)


def drawn(lines: Sequence[Line2D], values: NDArray[np.float64]) -> bool:
    """Whether one of the lines has these ordinates."""
    return any(y.shape == values.shape and np.allclose(y, values) for _, y in map(points, lines))


def axes(analysis: Analysis) -> Axes:
    figure = speedometer_error.draw(analysis)
    assert figure is not None
    (ax,) = figure.axes
    return ax


def test_readings_and_fit_of_both_setups_are_where_the_numbers_say() -> None:
    analysis = before_and_after()
    lines = axes(analysis).get_lines()
    for result in analysis.setups:
        instrument = result.speedometer
        assert instrument is not None
        used = instrument.readings[instrument.readings["set_aside"] == ""]
        expected = from_mps(1.0, "mph") * (used["shown_mps"] - used["true_mps"]).to_numpy()
        assert drawn(lines, expected)
        assert drawn(lines, np.array([from_mps(point.error_mps.value, "mph") for point in instrument.curve]))
    crosses = [line for line in lines if line.get_marker() == "x"]
    assert [points(line)[0].size for line in crosses] == [1, 1]


def test_the_band_of_the_rule_is_filled_and_named() -> None:
    ax = axes(before_and_after())
    legend = ax.get_legend()
    assert legend is not None
    assert [text.get_text() for text in legend.get_texts()] == [
        "allowed by UNECE R39",
        "before (14/43)",
        "after (13/43)",
    ]
    band = ax.collections[0].get_paths()[0].vertices
    curve = example.speedometer(1.0, "within").curve
    highest = max(from_mps((p.allowed_hi_mps or 0) - p.true_mps, "mph") for p in curve)
    assert np.max(np.asarray(band)[:, 1]) == pytest.approx(highest)
    assert np.min(np.asarray(band)[:, 1]) == pytest.approx(0.0)


def test_a_rule_at_one_speed_is_a_bar_there() -> None:
    analysis = before_and_after()
    bare = [
        replace(
            result,
            speedometer=replace(
                result.speedometer,
                curve=tuple(replace(p, allowed_lo_mps=None, allowed_hi_mps=None) for p in result.speedometer.curve),
                rule="49 CFR 393.82",
            ),
        )
        for result in analysis.setups
        if result.speedometer is not None
    ]
    ax = axes(replace(analysis, setups=(bare[0], bare[1])))
    bars = [line for line in ax.get_lines() if line.get_linewidth() == 9]
    assert [points(line)[0][0] for line in bars] == pytest.approx([from_mps(v / 3.6, "mph") for v in (40, 80, 120)])


def test_nothing_is_drawn_without_an_instrument() -> None:
    assert speedometer_error.draw(example.two_setups()) is None
    assert speedometer_tables(example.two_setups().setups[0], "kmh") == []
    assert dash_card(example.two_setups().setups[0], "kmh") is None


def test_words_for_those_who_cannot_see_it() -> None:
    text = speedometer_error.alt(before_and_after())
    assert text.startswith("before (14/43): the speedometer is off at some speeds: −0.5\N{NO-BREAK SPACE}mph (")
    assert "; against UNECE R39: outside. after (13/43): the speedometer shows too much: +1.5" in text
    assert text.endswith("; against UNECE R39: within. Error of the speedometer against the true speed.")


def test_tables() -> None:
    before, _ = before_and_after().setups
    at, corrected = speedometer_tables(before, "kmh")
    assert at.title == "Speedometer, before (14/43)"
    assert [row[0].text for row in at.rows] == ["40.0", "80.0", "120.0"]
    assert [row[3].text for row in at.rows] == ["40.0 to 48.0", "80.0 to 92.0", "120.0 to 136.0"]
    assert [row[4].text for row in at.rows] == ["outside"] * 3
    assert at.remark.startswith("Against UNECE R39: outside. Shown = 0.97")
    assert "Law differs from place to place" in at.remark
    assert corrected.remark == (
        "Set to 1.031 pulses out for each pulse in (+3.1 %). The offset stays as it is. Taken is the factor nearest to "
        "the truth with which it shows no less than the true speed, within the 95 % interval, at the speeds of the "
        "readings: most rules demand that."
    )


def test_where_no_corrector_is_advised_the_table_says_why() -> None:
    before, _ = before_and_after().setups
    assert before.speedometer is not None
    none = replace(before, speedometer=replace(before.speedometer, correction="no corrector is advised: it is true"))
    (at,) = speedometer_tables(none, "kmh")
    assert "Pulse corrector: no corrector is advised: it is true." in at.remark


def test_the_card_stands_on_the_page_to_be_cut_out() -> None:
    before, after = before_and_after().setups
    card = dash_card(after, "kmh")
    assert card is not None
    assert [row[0].text for row in card.rows] == [str(10 * k) for k in range(3, 13)]
    assert [row[1].text for row in card.rows] == [f"{(10 * k / 3.6 - 0.1) / 1.05 * 3.6:.0f}" for k in range(3, 13)]
    page = page_text(before_and_after(), [], [])
    assert page.count('<div class="card mph">') == page.count('<div class="card kmh">') == 2
    assert page.index("Card for the dash") < page.index("What the words mean")
    assert '<div class="card">' not in page_text(example.two_setups(), [], [])
    assert before.speedometer is not None
