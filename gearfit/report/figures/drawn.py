"""The figures of the page, in reading order, each with caption and words for those who cannot see it.

A figure that shows speeds has scales in both units; the page shows the one that is chosen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol

from markupsafe import Markup
from matplotlib.figure import Figure

from gearfit.records.results import Analysis
from gearfit.report.figures import (
    change_per_gear,
    circumference_history,
    engine_sound,
    ratio_histogram,
    ratios_against_nominal,
    runs_laid_over,
    speed_against_rpm,
    speed_course,
    speedometer_error,
    thrust_per_gear,
    timed_runs,
    track_picture,
)
from gearfit.report.figures.markup import inline
from gearfit.report.figures.style import svg_bytes
from gearfit.report.tables.in_units import in_units, say


class _Draw(Protocol):
    def __call__(self, analysis: Analysis) -> Figure | None:
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
    """A figure ready for the page: its picture as markup, its words in both units."""

    name: str
    title: str
    caption: Markup
    alt: Markup
    picture: Markup


KINDS: Final = tuple(
    Kind(module.__name__.rpartition(".")[2].replace("_", "-"), title, module.draw, module.caption, module.alt)
    for module, title in (
        (change_per_gear, "Change in each gear"),
        (speed_against_rpm, "Road speed against engine speed"),
        (ratio_histogram, "The gears in the samples"),
        (ratios_against_nominal, "Ratios against the tooth counts"),
        (timed_runs, "Timed runs"),
        (runs_laid_over, "The runs, laid over each other"),
        (thrust_per_gear, "Thrust in each gear, before and after"),
        (speed_course, "A standing start on paper"),
        (speedometer_error, "Error of the speedometer"),
        (engine_sound, "The engine's sound"),
        (circumference_history, "Circumference over the dates"),
        (track_picture, "Where it was ridden"),
    )
)


def drawn(kind: Kind, analysis: Analysis) -> DrawnFigure | None:
    """Draw a figure, once for every screen and for paper; None where the data are missing."""
    picture = kind.draw(analysis)
    if picture is None:
        return None
    markup = Markup(inline(svg_bytes(picture), kind.name, f"alt-{kind.name}"))  # noqa: S704
    kmh, mph = in_units(analysis)
    caption, alt = (say(words(kmh), words(mph)) for words in (kind.caption, kind.alt))
    return DrawnFigure(kind.name, kind.title, caption, alt, markup)
