"""The parts of a report that take time; none needs another one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial

from gearfit.records.results import Analysis
from gearfit.report.figures import drawn as figures
from gearfit.report.figures import summary_picture, summary_square
from gearfit.report.files import tables


@dataclass(frozen=True)
class Made:
    """What a part came to: files by their names, and the figure if it is one for which there are data."""

    files: dict[str, bytes] = field(default_factory=dict)
    figure: figures.DrawnFigure | None = None


@dataclass(frozen=True)
class Part:
    """A part, and what to call it while it is worked on."""

    label: str
    make: Callable[[Analysis], Made]


def parts_of(sample_names: Sequence[str], shape: str) -> list[Part]:
    """Return the parts: a table of samples for each setup, the figures in reading order, and the summary picture."""
    return [
        *(Part("samples", partial(_samples, place, name)) for place, name in enumerate(sample_names)),
        *(Part(f"figure: {kind.title.lower()}", partial(_figure, kind)) for kind in figures.KINDS),
        Part("summary picture", partial(_summary, shape)),
    ]


def _samples(place: int, name: str, analysis: Analysis) -> Made:
    return Made({name: tables.samples_text(analysis.setups[place]).encode()})


def _figure(kind: figures.Kind, analysis: Analysis) -> Made:
    return Made(figure=figures.drawn(kind, analysis))


def _summary(shape: str, analysis: Analysis) -> Made:
    picture = summary_picture.draw(analysis) if shape == "wide" else summary_square.draw(analysis)
    return Made({"summary.png": summary_picture.png(picture), "summary.svg": summary_picture.svg(picture)})
