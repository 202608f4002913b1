"""How our figures look: colours, markers and line styles that also tell apart in grey, and saving to fixed bytes."""

from __future__ import annotations

import functools
import io
import textwrap
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final, ParamSpec, TypeVar

import matplotlib as mpl
import matplotlib.style
from matplotlib import font_manager, ft2font
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

INK: Final = "#1d2730"
SOFT_INK: Final = "#56616a"
RULE: Final = "#d5d8d6"
LEFT_OUT: Final = "#9ba1a1"
PAPER: Final = "#ffffff"

FONT: Final = "DejaVu Sans"
#: Width of every figure of the page: legible on a phone, two beside each other on paper and on a wide screen.
WIDTH_IN: Final = 4.1
#: Mean width of a letter of a panel's title.
_TITLE_CHARACTER_IN: Final = 0.115
#: Resolution of what is rasterised below vector axes.
RASTER_DPI: Final = 200

P = ParamSpec("P")
R = TypeVar("R")


@dataclass(frozen=True)
class SetupStyle:
    """Colour (dark and light tint) and marker of one setup."""

    dark: str
    light: str
    marker: str


#: Dark petrol, light ochre, mid plum, ... : different in hue, in lightness and in marker.
SETUP_STYLES: Final = (
    SetupStyle("#1f5068", "#5b93ad", "o"),
    SetupStyle("#c2691c", "#e3a766", "D"),
    SetupStyle("#7d4f8c", "#b595c0", "^"),
    SetupStyle("#4d6b2f", "#93ac76", "s"),
    SetupStyle("#8a3b3b", "#c08a8a", "v"),
)

_SETTINGS: Final = {
    "font.family": FONT,
    "font.size": 10.0,
    "text.color": INK,
    "text.parse_math": False,
    "text.hinting": "none",
    "axes.edgecolor": SOFT_INK,
    "axes.labelcolor": INK,
    "axes.titlecolor": INK,
    "axes.titlelocation": "left",
    "axes.titlesize": 11.0,
    "axes.titley": 1.0,
    "axes.titleweight": "bold",
    "axes.labelsize": 10.0,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "axes.formatter.use_mathtext": False,
    "axes.formatter.useoffset": False,
    "grid.color": RULE,
    "grid.linewidth": 0.6,
    "xtick.color": SOFT_INK,
    "ytick.color": SOFT_INK,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": 9.0,
    "ytick.labelsize": 9.0,
    "legend.frameon": False,
    "legend.fontsize": 9.0,
    "figure.facecolor": PAPER,
    "axes.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "svg.fonttype": "none",
    "svg.hashsalt": "gearfit",
    "path.simplify": True,
}


def setup_style(index: int) -> SetupStyle:
    """Return the style of the setup at `index` (reference 0)."""
    return SETUP_STYLES[index % len(SETUP_STYLES)]


@contextmanager
def our_style() -> Iterator[None]:
    """Draw and save in our style, whatever the reader's own matplotlib settings are."""
    with matplotlib.style.context(["default", _SETTINGS]):
        yield


def in_our_style(draw: Callable[P, R]) -> Callable[P, R]:
    """Run a draw function within `our_style`."""

    @functools.wraps(draw)
    def drawn(*args: P.args, **kwargs: P.kwargs) -> R:
        with our_style():
            return draw(*args, **kwargs)

    return drawn


def new_figure(width_in: float, height_in: float) -> Figure:
    """Return an empty figure on the Agg canvas; `gearfit.report.figures.panels` says where its panels go."""
    figure = Figure(figsize=(width_in, height_in), dpi=100)
    FigureCanvasAgg(figure)
    return figure


def in_lines(text: str, width_in: float) -> str:
    """Break a name into at most three drawable lines that fit `width_in` at the size of a panel's title."""
    shown = drawable(text)
    characters = max(int(width_in / _TITLE_CHARACTER_IN), 8)
    return "\n".join(textwrap.wrap(shown, characters, max_lines=3, placeholder=" …")) or shown


@in_our_style
def svg_bytes(figure: Figure, letters: str = "none") -> bytes:
    """Return a figure as SVG, letters as text ("none") or drawn ("path"); same figure, same bytes."""
    buffer = io.BytesIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    with mpl.rc_context({"svg.fonttype": letters}):
        figure.savefig(buffer, format="svg", dpi=RASTER_DPI, metadata=nothing)
    return buffer.getvalue()


@in_our_style
def png_bytes(figure: Figure, dpi: float = 100) -> bytes:
    """Return a figure as PNG; same figure, same bytes."""
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=dpi, facecolor=figure.get_facecolor(), metadata={"Software": None})
    return buffer.getvalue()


@functools.cache
def _known_characters() -> frozenset[int]:
    path = font_manager.findfont(FONT, fallback_to_default=False)
    return frozenset(ft2font.FT2Font(path).get_charmap())


def drawable(text: str) -> str:
    """Return `text` on one line with each character that our font lacks replaced by `?`.

    Letters written with combining marks are put together first; control characters become spaces.
    """
    composed = unicodedata.normalize("NFC", text)
    known = _known_characters()
    spaced = "".join(" " if unicodedata.category(char).startswith("C") else char for char in composed)
    return "".join(char if ord(char) in known else "?" for char in " ".join(spaced.split(" ")))
