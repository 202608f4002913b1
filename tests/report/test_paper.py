"""What goes on paper: the least important is left to the screen first, and what is left is named."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from markupsafe import Markup

from gearfit.report import page_tables, paper
from gearfit.report.figures import DrawnFigure
from gearfit.report.paper import Part
from tests.report import example
from tests.report.conftest import Reports

FULL = [
    Part("first", 200.0),
    Part("gears", 100.0, 2),
    Part("runs", 60.0, 1, half=True),
    Part("teeth", 60.0, 3, half=True),
]


@pytest.mark.parametrize(
    ("more", "left"),
    [
        ([], set()),
        # 200 | 100, 60 beside 60 | 250
        ([Part("closing", 250.0)], set()),
        # without "teeth" and without "gears", 200 | 60 | 250, 250 is one sheet too many: all that can is left out
        ([Part("closing", 250.0), Part("more", 250.0, 5)], {"more"}),
        ([Part("closing", 250.0), Part("more", 250.0)], {"teeth", "gears", "runs"}),
        # 200 | 100, 60 beside 60 | 90, 90: one of the two has no room on the third sheet, the later one goes first
        ([Part("one", 130.0, 4), Part("two", 130.0, 4)], {"two"}),
    ],
)
def test_the_last_of_the_highest_rank_is_left_first(more: list[Part], left: set[str]) -> None:
    assert paper._beyond([*FULL, *more]) == left


def test_what_still_finds_room_is_put_back() -> None:
    # "wide" is left out first and that is not enough; without "tall", 100 mm more than fit, there is room for it again
    parts = [Part("fixed", 700.0), Part("tall", 170.0, 1), Part("wide", 60.0, 2)]
    assert paper._beyond(parts) == {"tall"}


def test_a_picture_taller_than_a_sheet_stays_on_the_screen() -> None:
    tables = page_tables.key_figures(example.two_setups())
    # half the width of the sheet is 96 mm: three times as high as wide is higher than a sheet, twice is not
    for shape, left in ((3.0, {"timed-runs"}), (2.0, set())):
        markup = Markup(f'<svg class="narrow" viewBox="0 0 100 {100 * shape}">')
        picture = DrawnFigure("timed-runs", "", Markup(""), Markup(""), markup)
        assert paper.left_to_the_screen(1, [], tables, [picture], [], 0) == left


def test_the_page_says_what_is_not_on_paper(reports: Reports) -> None:
    text = reports(example.crowded)["report.html"].read_text("utf-8")
    assert re.search(r"Not on paper, but in report.html: [^<]*The gears in the samples; ", text)
    (more,) = re.findall(r"</span> (\d+) more in report.html", text)
    unseen = text.count('<li class="warning screen"')
    assert int(more) == unseen > 0
    # 62 warnings stand on the page
    assert text.count('<li class="warning"') + unseen == 62
    (sentences,) = re.findall(r"(\d+) sentences of the answers", text)
    assert int(sentences) == len(re.findall(r'<li class="\w+ screen"', text))


def test_a_ride_with_room_for_all_keeps_its_pictures(ridden: Path) -> None:
    printed = re.findall(r'<section class="picture" id="([^"]*)"', ridden.read_text("utf-8"))
    assert printed == ["change-per-gear", "speed-against-rpm", "timed-runs"]
