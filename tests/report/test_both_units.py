"""Scales in both units: each number stands where that speed is drawn, and carries the class of its unit."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.records.results import Analysis
from gearfit.report.figures import both_units, ratio_histogram, speed_against_rpm, speedometer_error, timed_runs
from gearfit.report.figures.markup import inline
from gearfit.report.figures.style import svg_bytes
from tests.report import example

#: 1 mile = 1.609344 km (1959).
KM_PER_MILE = 1.609344
Draw = Callable[[Analysis], Figure | None]


def other_numbers(ax: Axes, unit: str, side: Literal["x", "y"]) -> list[tuple[float, float]]:
    """Numbers written for the unit in which the picture is not drawn, and where they stand."""
    found = [text for text in ax.texts if text.get_gid() == f"unit:{unit}" and "[" not in text.get_text()]
    along = 0 if side == "x" else 1
    places = [(float(text.get_text().replace("−", "-")), text.get_position()) for text in found]
    return [(number, place[along]) for number, place in places if place[1 - along] == 0.0]


@pytest.mark.parametrize(
    ("draw", "panel", "side", "power"),
    [
        (speed_against_rpm.draw, 0, "y", 1),
        (ratio_histogram.draw, -1, "x", -1),
        (speedometer_error.draw, 0, "y", 1),
    ],
)
@pytest.mark.parametrize("unit", ["kmh", "mph"])
def test_a_number_stands_where_that_speed_is_drawn(
    draw: Draw, panel: int, side: Literal["x", "y"], power: int, unit: str
) -> None:
    figure = draw(replace(example.sheet_only(), speed_unit=unit))
    assert figure is not None
    ax = figure.axes[panel]
    other = "mph" if unit == "kmh" else "kmh"
    own_per_other = KM_PER_MILE if unit == "kmh" else 1 / KM_PER_MILE
    numbers = other_numbers(ax, other, side)
    assert len(numbers) >= 3
    for number, place in numbers:
        assert place == pytest.approx(number * own_per_other**power, abs=1e-9)
    lo, hi = ax.get_xlim() if side == "x" else ax.get_ylim()
    assert all(lo - 1e-9 <= place <= hi + 1e-9 for _, place in numbers)
    axis = ax.xaxis if side == "x" else ax.yaxis
    assert axis.get_gid() == f"unit:{unit}"
    assert f"{'km/h' if unit == 'kmh' else 'mph'}]" in axis.label.get_text()


def test_words_of_a_unit_stand_in_groups_of_its_class() -> None:
    figure = timed_runs.draw(example.two_setups())
    assert figure is not None
    markup = inline(svg_bytes(figure), "runs", "alt-runs")
    titles = re.findall(r'<g class="(\w+)"> <text[^>]*>([^<]*)</text>', markup)
    spans = [title for title in titles if "to" in title[1]]
    assert set(spans[:2]) == {
        ("kmh", "0\xa0to\xa0100\xa0km/h, by stopwatch"),
        ("mph", "0\xa0to\xa062.1\xa0mph\xa0(100\xa0km/h),"),
    }
    assert {unit for unit, _ in titles} == {"kmh", "mph"}
    assert all({"kmh": "km/h", "mph": "mph"}[unit] in text for unit, text in titles)


@pytest.mark.parametrize(
    ("ends", "expected"),
    [
        ((0, 123), [0, 20, 40, 60, 80, 100, 120]),
        ((0, 7.6), [0, 1, 2, 3, 4, 5, 6, 7]),
        ((-0.3, 0.3), [-0.3, -0.2, -0.1, 0, 0.1, 0.2, 0.3]),
    ],
)
def test_round_numbers_on_a_scale(ends: tuple[float, float], expected: list[float]) -> None:
    assert both_units.round_ticks(*ends) == pytest.approx(expected)


def test_a_title_breaks_behind_its_speeds() -> None:
    tied = "37.3\xa0to\xa062.1\xa0mph\xa0(60\xa0to\xa0100\xa0km/h)"
    assert both_units.broken(f"{tied} in third gear", 9.0) == f"{tied} in third gear"
    assert both_units.broken(f"{tied} in third gear", 4.0) == f"{tied}\nin third gear"
    two = tied.replace("\xa0(", "\n(")
    assert both_units.broken(f"{tied} in third gear", 2.7) == f"{two}\nin third gear"
    assert both_units.broken(tied, 2.7) == two
    rest = "through the gears from second gear"
    assert both_units.broken(f"{tied}, {rest}", 2.7) == f"{two},\nthrough the gears from\nsecond gear"
