"""The figures of the page, in reading order, each with caption and words for those who cannot see it."""

from __future__ import annotations

import base64
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol

from matplotlib.figure import Figure

from gearfit.report import (
    change_per_gear,
    engine_sound,
    ratio_histogram,
    ratios_against_nominal,
    speed_against_rpm,
    speedometer_error,
    timed_runs,
)
from gearfit.report.style import svg_bytes
from gearfit.results import Analysis


class _Draw(Protocol):
    def __call__(self, analysis: Analysis, *, narrow: bool = False) -> Figure | None:
        """Draw a figure, or return None where the data for it are missing."""


@dataclass(frozen=True)
class Kind:
    """One kind of figure: how to draw it and what to say about it."""

    name: str
    title: str
    draw: _Draw
    caption: Callable[[Analysis], str]
    alt: Callable[[Analysis], str]


@dataclass(frozen=True)
class DrawnFigure:
    """A figure ready for the page: wide and narrow as data URIs."""

    name: str
    title: str
    caption: str
    alt: str
    wide_uri: str
    narrow_uri: str
    width_px: int
    height_px: int


KINDS: Final = tuple(
    Kind(module.__name__.rpartition(".")[2].replace("_", "-"), title, module.draw, module.caption, module.alt)
    for module, title in (
        (change_per_gear, "Change in each gear"),
        (speed_against_rpm, "Road speed against engine speed"),
        (ratio_histogram, "The gears in the samples"),
        (ratios_against_nominal, "Ratios against the tooth counts"),
        (timed_runs, "Timed runs"),
        (speedometer_error, "Error of the speedometer"),
        (engine_sound, "The engine's sound"),
    )
)


def draw_all(analysis: Analysis, progress: Callable[[str], None]) -> list[DrawnFigure]:
    """Draw every figure for which there are data."""
    drawn = []
    for kind in KINDS:
        progress(f"figure: {kind.title.lower()}")
        wide, narrow = kind.draw(analysis), kind.draw(analysis, narrow=True)
        if wide is None or narrow is None:
            continue
        width_in, height_in = wide.get_size_inches()
        drawn.append(
            DrawnFigure(
                kind.name,
                kind.title,
                kind.caption(analysis),
                kind.alt(analysis),
                _data_uri(wide),
                _data_uri(narrow),
                round(100 * width_in),
                round(100 * height_in),
            )
        )
    return drawn


def _data_uri(figure: Figure) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg_bytes(figure)).decode("ascii")
