"""Panels of a picture at places laid down in inches: nothing has to be measured before it is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.report.figures import style

#: Distance of the words beside an axis from it, in inches: below the numbers, left of the numbers.
_LABEL_BELOW_IN: Final = 0.27
_LABEL_LEFT_IN: Final = 0.50
#: Height of a line of a title and of a legend, and what is left free around them.
_TITLE_LINE_IN: Final = 0.19
_LEGEND_LINE_IN: Final = 0.165
_LEGEND_GAP_IN: Final = 0.09


@dataclass(frozen=True)
class Room:
    """Inches that are kept free around the panels, and between them (`down`)."""

    left: float = 0.74
    right: float = 0.16
    top: float = 0.14
    bottom: float = 0.52
    down: float = 0.30

    def under(self, titles: Sequence[str], extra: float = 0.0) -> Room:
        """Return the room with titles of one or more lines above each panel, and `extra` above those."""
        most = most_lines(titles) * _TITLE_LINE_IN + extra
        return replace(self, top=self.top + most, down=self.down + most)

    def over_legend(self, labels: Sequence[str], columns: int) -> Room:
        """Return the room with a legend below all panels."""
        tall = [label.count("\n") + 1 for label in labels]
        lines = sum(max(tall[first : first + columns]) for first in range(0, len(tall), columns))
        return replace(self, bottom=self.bottom + lines * _LEGEND_LINE_IN + _LEGEND_GAP_IN)


def most_lines(titles: Sequence[str]) -> int:
    """Return the lines of the tallest title."""
    return max((text.count("\n") + 1 for text in titles), default=0)


def panels(
    width_in: float,
    height_in: float,
    rows: int = 1,
    *,
    room: Room | None = None,
    sharex: bool = False,
    sharey: bool = False,
) -> tuple[Figure, list[Axes]]:
    """Return a picture and its panels, one above the other."""
    keep = room or Room()
    figure = style.new_figure(width_in, height_in)
    wide = width_in - keep.left - keep.right
    high = (height_in - keep.top - keep.bottom - (rows - 1) * keep.down) / rows
    places = {
        "left": keep.left / width_in,
        "right": 1 - keep.right / width_in,
        "bottom": keep.bottom / height_in,
        "top": 1 - keep.top / height_in,
        "hspace": keep.down / high,
    }
    grid = figure.subplots(rows, 1, squeeze=False, sharex=sharex, sharey=sharey, gridspec_kw=places)
    for ax in grid.flat:
        ax.xaxis.set_label_coords(0.5, -_LABEL_BELOW_IN / high)
        ax.yaxis.set_label_coords(-_LABEL_LEFT_IN / wide, 0.5)
    return figure, list(grid.flat)


def legend_below(figure: Figure, handles: Sequence[Artist], columns: int) -> None:
    """Put a legend at the foot of a picture, in the room that `Room.over_legend` keeps for it."""
    place: Literal["lower center"] = "lower center"
    figure.legend(handles=list(handles), loc=place, ncols=columns, borderaxespad=0.2)
