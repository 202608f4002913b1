"""Put text into a box of the picture: wrap it, make it smaller until it fits, shorten it only as a last resort."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.text import Text

from gearfit.report.style import FONT, INK, drawable

LINE_SPACING: Final = 1.28
_SHRINK: Final = 0.93
_ELLIPSIS: Final = "…"


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
) -> Text:
    """Write `text` into `box`, from its top; return what was written.

    Parameters
    ----------
    figure : Figure
        Picture on the Agg canvas.
    box : Box
        Place in pixels.
    text : str
        Any text; characters that our font lacks are replaced.
    size_pt, smallest_pt : float
        Size wished for, and the size below which the text is rather cut with an ellipsis (half of it by default).
    weight, colour, align : str
        As matplotlib names them; `align` is left, center or right.
    """
    shown = drawable(text)
    smallest = size_pt / 2 if smallest_pt is None else smallest_pt
    size = size_pt
    while True:
        width_of = _measure(figure, size, weight)
        lines = wrap(shown, box.width, width_of)
        room = max(int(box.height / line_height_px(figure, size)), 1)
        if len(lines) <= room:
            break
        if size * _SHRINK < smallest:
            lines = [*lines[: room - 1], _cut(" ".join(lines[room - 1 :]), box.width, width_of)]
            break
        size *= _SHRINK
    width_px, height_px = figure.get_size_inches() * figure.dpi
    x = box.left + {"left": 0.0, "center": box.width / 2, "right": box.width}[align]
    return figure.text(
        x / width_px,
        1 - box.top / height_px,
        "\n".join(lines),
        fontsize=size,
        fontweight=weight,
        color=colour,
        ha=align,
        va="top",
        linespacing=LINE_SPACING,
    )


def line_height_px(figure: Figure, size_pt: float) -> float:
    """Return the distance of lines in pixels."""
    return size_pt / 72 * figure.dpi * LINE_SPACING * 1.17


def wrap(text: str, width: float, width_of: Callable[[str], float]) -> list[str]:
    """Break `text` at spaces into lines no wider than `width`; a longer word is broken within."""
    lines: list[str] = [""]
    for word in text.split():
        joined = f"{lines[-1]} {word}".strip()
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
    canvas = figure.canvas
    if not isinstance(canvas, FigureCanvasAgg):
        raise TypeError(f"the figure's canvas is a {type(canvas).__name__}; allowed is FigureCanvasAgg")
    renderer = canvas.get_renderer()
    properties = FontProperties(family=FONT, size=size_pt, weight=weight)

    def width_of(line: str) -> float:
        return float(renderer.get_text_width_height_descent(line, properties, ismath=False)[0])

    return width_of
