"""The one picture: its size, its words, and that nothing runs over the edge of its place."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import replace
from types import ModuleType

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from gearfit.records.results import Analysis, Finding
from gearfit.report.figures import style, summary_picture, summary_square
from gearfit.report.figures.text_box import Box, fitted, put_text, wrap
from tests.report import example
from tests.report.conftest import Reports


def endless() -> Analysis:
    """Long in every place where a person's words can be long, with seven gears."""
    analysis = example.three_setups()
    long = Finding("note", "long", "The front sprocket has one tooth less, and " + "so on and so forth, " * 40)
    seven = []
    for result in analysis.setups:
        seventh = replace(result.gears[-1], gear=7)
        seven.append(replace(result, gears=(*result.gears, seventh)))
    return replace(
        analysis,
        bike=replace(analysis.bike, name="W" * 300),
        findings=(long,),
        setups=tuple(seven),
    )


@pytest.mark.parametrize("make", example.ALL)
def test_size_in_pixels(make: Callable[[], Analysis], reports: Reports) -> None:
    png = reports(make)["summary.png"].read_bytes()
    # PNG (Third Edition), 11.2.1: IHDR holds width and height as the first eight bytes of its data
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", png[16:24]) == (1920, 1080)


@pytest.mark.parametrize("shape", [summary_picture, summary_square])
@pytest.mark.parametrize("make", [*example.ALL, endless])
def test_no_text_leaves_the_picture_and_no_two_overlap(make: Callable[[], Analysis], shape: ModuleType) -> None:
    figure = shape.draw(make())
    width = float(figure.get_figwidth()) * 100
    canvas = figure.canvas
    assert isinstance(canvas, FigureCanvasAgg)
    with style.our_style():
        boxes = [
            (text.get_text(), text.get_window_extent(canvas.get_renderer()))  # type: ignore[no-untyped-call]
            for text in figure.texts
            if text.get_text()
        ]
    for text, box in boxes:
        assert box.x0 >= 40, text
        assert box.x1 <= width - 40, text
        assert box.y0 >= 10, text
        assert box.y1 <= 1070, text
    for place, (text, box) in enumerate(boxes):
        for other, other_box in boxes[place + 1 :]:
            across = min(box.x1, other_box.x1) - max(box.x0, other_box.x0)
            along = min(box.y1, other_box.y1) - max(box.y0, other_box.y0)
            assert across < 2 or along < 6, (text, other)


def test_it_says_the_answer_and_the_number() -> None:
    figure = summary_picture.draw(example.two_setups())
    words = " ".join(text.get_text() for text in figure.texts)
    assert "Fell 420 before (14/43) → after (13/43) All gears together moved by −6.93\xa0%" in words
    assert "−6.93\xa0%" in words
    assert "tooth counts say −7.14\xa0%" in words
    assert "6.42 → 6.05" in words.replace("\xa0", " ")


def test_no_dollar_sign_is_taken_for_mathematics() -> None:
    figure = summary_picture.draw(example.nasty_names())
    assert all(not text.get_parse_math() for text in figure.texts)
    assert "$x_1^2$ ?" in " ".join(text.get_text() for text in figure.texts)


def test_text_becomes_smaller_then_wraps_then_is_cut() -> None:
    figure = style.new_figure(19.2, 10.8)
    assert fitted(figure, Box(0, 0, 1000, 60), "short", 30, 15) == (30, ["short"])
    size, lines = fitted(figure, Box(0, 0, 300, 60), "as long as two lines of this", 30, 10)
    assert size < 30
    assert " ".join(lines) == "as long as two lines of this"
    size, lines = fitted(figure, Box(0, 0, 300, 60), "word " * 100, 30, 20)
    assert size >= 20
    assert lines[-1].endswith("…")
    assert len(put_text(figure, Box(0, 0, 300, 60), "word " * 100, 30, smallest_pt=20)) == len(lines)


def test_wrap_breaks_long_words_and_loses_nothing() -> None:
    assert wrap("ab cdefghij k", 4, lambda line: float(len(line))) == ["ab", "cdef", "ghij", "k"]


def test_without_samples_further_findings_take_the_place_of_the_plot() -> None:
    said = tuple(Finding("note", "x", f"sentence {number} " * 30) for number in range(6))
    figure = summary_picture.draw(replace(example.timed_only(), findings=said))
    assert not figure.axes
    words = " ".join(text.get_text() for text in figure.texts)
    assert [f"sentence {number}" in words for number in range(6)] == [True] * 4 + [False] * 2


def test_the_square_says_the_answer_as_well() -> None:
    figure = summary_square.draw(example.two_setups())
    assert tuple(100 * figure.get_size_inches()) == (1080, 1080)
    words = " ".join(text.get_text() for text in figure.texts)
    assert "−6.93\xa0%" in words
    assert "tooth counts say −7.14\xa0%" in words
    smallest = min(float(text.get_fontsize()) for text in figure.texts)
    assert smallest >= 13  # 18 pixels of 1080


def test_the_svg_draws_its_letters_and_loads_nothing() -> None:
    svg = summary_picture.svg(summary_square.draw(example.nasty_names())).decode()
    assert "<text" not in svg
    assert "font-family" not in svg
    assert 'href="http' not in svg


@pytest.mark.parametrize("shape", [summary_picture, summary_square])
def test_each_of_three_setups_has_its_number_and_its_strip(shape: ModuleType) -> None:
    analysis = example.three_setups()
    told = tuple(Finding("note", "change-agrees", f"About {c.other}.", c.other) for c in analysis.comparisons)
    figure = shape.draw(replace(analysis, findings=(*analysis.findings, *told)))
    texts = " ".join(text.get_text() for text in figure.texts)
    for number in ("−6.93\xa0%", "+7.35\xa0%", "tooth counts say −7.14\xa0%", "tooth counts say +7.14\xa0%"):
        assert number in texts
    assert figure.axes[0].get_title(loc="left") == "after"
    assert figure.axes[1].get_title(loc="left").startswith("motorway set with the")
    if shape is summary_picture:
        assert "About after. About motorway set with the larger front sprocket." in texts
