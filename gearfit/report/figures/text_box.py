"""Put text into a box of the picture: wrap it, make it smaller until it fits, shorten it only as a last resort."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.text import Text
from matplotlib.textpath import text_to_path

from gearfit.report.figures.style import FONT, INK, drawable

#: Distance of lines and height of capitals with accents above the base line, per font size.
LINE_DISTANCE: Final = 1.36
_ASCENT: Final = 0.95
_SHRINK: Final = 0.95
_ELLIPSIS: Final = "…"
_POINTS_PER_INCH: Final = 72


@dataclass(frozen=True)
class Box:
    """A place on the picture in pixels, measured from its top left corner."""

    left: float
    top: float
    width: float
    height: float


def put_text(
    figure: Figure,
    box: Box,
    text: str,
    size_pt: float,
    *,
    smallest_pt: float | None = None,
    weight: str = "normal",
    colour: str = INK,
    align: str = "left",
) -> list[Text]:
    """Write `text` into `box`, from its top; return the lines written.

    Parameters
    ----------
    figure : Figure
        Picture.
    box : Box
        Place in pixels.
    text : str
        Any text; characters that our font lacks are replaced.
    size_pt, smallest_pt : float
        Size wished for, and the size below which the text is rather cut with an ellipsis (half of it by default).
    weight, colour, align : str
        As matplotlib names them; `align` is left, center or right.
    """
    size, lines = fitted(
        figure, box, drawable(text).replace(" %", "\N{NO-BREAK SPACE}%"), size_pt, smallest_pt or size_pt / 2, weight
    )
    em_px = size / _POINTS_PER_INCH * figure.dpi
    width_px, height_px = figure.get_size_inches() * figure.dpi
    x = box.left + {"left": 0.0, "center": box.width / 2, "right": box.width}[align]
    return [
        figure.text(
            x / width_px,
            1 - (box.top + (_ASCENT + place * LINE_DISTANCE) * em_px) / height_px,
            line,
            fontsize=size,
            fontweight=weight,
            color=colour,
            ha=align,
            va="baseline",
        )
        for place, line in enumerate(lines)
    ]


def fitted(
    figure: Figure, box: Box, text: str, size_pt: float, smallest_pt: float, weight: str = "normal"
) -> tuple[float, list[str]]:
    """Return the largest size up to `size_pt` at which the text fits into the box, and its lines there."""
    size = size_pt
    while True:
        width_of = _measure(figure, size, weight)
        lines = wrap(text, box.width, width_of)
        room = max(int(box.height / (LINE_DISTANCE * size / _POINTS_PER_INCH * figure.dpi)), 1)
        if len(lines) <= room:
            return size, lines
        if size * _SHRINK < smallest_pt:
            return size, [*lines[: room - 1], _cut(" ".join(lines[room - 1 :]), box.width, width_of)]
        size *= _SHRINK


def wrap(text: str, width: float, width_of: Callable[[str], float]) -> list[str]:
    """Break `text` at spaces into lines no wider than `width`; a longer word is broken within."""
    lines: list[str] = [""]
    for word in text.split(" "):
        joined = f"{lines[-1]} {word}".strip(" ")
        if width_of(joined) <= width:
            lines[-1] = joined
            continue
        if lines[-1]:
            lines.append("")
        for char in word:
            if lines[-1] and width_of(lines[-1] + char) > width:
                lines.append("")
            lines[-1] += char
    return lines


def _cut(text: str, width: float, width_of: Callable[[str], float]) -> str:
    while text and width_of(text + _ELLIPSIS) > width:
        text = text[:-1].rstrip()
    return text + _ELLIPSIS


def _measure(figure: Figure, size_pt: float, weight: str) -> Callable[[str], float]:
    size_px = size_pt / _POINTS_PER_INCH * figure.dpi

    def width_of(line: str) -> float:
        return size_px * sum(_advance(char, weight) for char in line)

    return width_of


@functools.cache
def _advance(char: str, weight: str) -> float:
    """Return the width of a letter at size 1, kerning aside (which hardly ever widens a line)."""
    hundred = FontProperties(family=FONT, size=100, weight=weight)
    pair, bars = (text_to_path.get_text_width_height_descent(t, hundred, ismath=False)[0] for t in (f"|{char}|", "||"))
    return (pair - bars) / 100
