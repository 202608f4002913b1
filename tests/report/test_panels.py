"""Panels at laid-down places: every word within the picture, none across another of the same axis."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from gearfit.records.results import Analysis
from gearfit.report.figures import drawn as figures
from gearfit.report.figures.style import our_style
from tests.report import example

EXAMPLES = (example.three_setups, example.nasty_names, example.without_gears, example.sheet_only)


def box(text: Text) -> Bbox:
    return text.get_window_extent().padded(-1.0)


def seen(texts: list[Text]) -> list[Text]:
    return [text for text in texts if text.get_visible() and text.get_text()]


def numbers_of(ax: Axes, side: str) -> list[Text]:
    """The numbers that are drawn: those of ticks between the ends of the axis."""
    axis = ax.xaxis if side == "x" else ax.yaxis
    lo, hi = sorted(axis.get_view_interval())
    return seen([tick.label1 for tick in axis.get_major_ticks() if lo <= tick.get_loc() <= hi])


def words_of(figure: Figure) -> list[Text]:
    """All words that are drawn."""
    axes = [ax for ax in figure.axes if ax.get_visible()]
    hidden = {text for ax in figure.axes if not ax.get_visible() for text in ax.findobj(Text)}
    ticks = [tick for ax in axes for axis in (ax.xaxis, ax.yaxis) for tick in (*axis.majorTicks, *axis.minorTicks)]
    hidden |= {label for tick in ticks for label in (tick.label1, tick.label2)}
    return [text for text in seen(figure.findobj(Text)) if text not in hidden] + [
        number for ax in axes for side in ("x", "y") for number in numbers_of(ax, side)
    ]


def faults(figure: Figure) -> list[str]:
    """Say which words leave the picture, and which numbers of an axis lie across each other or its words."""
    figure.draw_without_rendering()
    picture = figure.bbox.padded(1.0)
    found = []
    for text in words_of(figure):
        corners = box(text)
        if not (picture.contains(*corners.min) and picture.contains(*corners.max)):
            found.append(f"{text.get_text()!r} leaves the picture")
    for ax in figure.axes:
        for side in ("x", "y"):
            numbers, label = numbers_of(ax, side), (ax.xaxis if side == "x" else ax.yaxis).label
            found += [f"{a.get_text()} on {b.get_text()}" for a, b in pairwise(numbers) if box(a).overlaps(box(b))]
            if label.get_text():
                found += [f"{n.get_text()} on {label.get_text()!r}" for n in numbers if box(n).overlaps(box(label))]
    return found


@pytest.mark.parametrize("make", EXAMPLES)
def test_words_lie_within_the_picture_and_beside_each_other(make: Callable[[], Analysis]) -> None:
    analysis = make()
    told = {}
    for kind in figures.KINDS:
        figure = kind.draw(analysis)
        if figure is not None:
            with our_style():
                told[kind.name] = faults(figure)
    assert {name: found for name, found in told.items() if found} == {}
    assert told
