"""Where it was ridden: runs, held speeds and stretches left out, in metres, without a map."""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from gearfit.records.results import Analysis, SetupResult
from gearfit.records.track_results import HELD, IN_GEAR, LEFT_OUT, RUN
from gearfit.records.words import TIE, count, setup_label
from gearfit.report.figures import style
from gearfit.report.figures.panels import Room, legend_below, panels
from gearfit.report.figures.style import SetupStyle, in_our_style

#: Label, width of the line.
_LOOKS: Final = {
    LEFT_OUT: ("left out", 0.9),
    IN_GEAR: ("in a gear", 1.8),
    HELD: ("held speed", 4.2),
    RUN: ("timed run", 2.4),
}


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one panel per setup that holds positions; None where none does."""
    shown = _placed(analysis)
    if not shown:
        return None
    titles = [style.in_lines(setup_label(result.setup), style.WIDTH_IN - 0.8) for _, result in shown]
    room = Room(left=0.84, down=0.62).under(titles)
    legend = _legend()
    room = room.over_legend([str(handle.get_label()) for handle in legend], 2)
    figure, axes = panels(style.WIDTH_IN, 3.7 * len(shown) + 0.5, len(shown), room=room)
    for ax, (index, result), text in zip(axes, shown, titles, strict=True):
        _panel(ax, result, style.setup_style(index))
        ax.set_title(text)
    legend_below(figure, legend, 2)
    return figure


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    return (
        "Metres to the east and north of each setup's first position, north up, without a map. Thin grey: left out. "
        "Middle: in a gear. Broad: the speed was held there. Strongest: a timed run. Anybody who knows the roads may "
        "recognise them: with --no-positions the report leaves this picture out."
    )


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    parts = []
    for _, result in _placed(analysis):
        state = np.concatenate([track.state for track in result.tracks])
        wide, high = (
            np.ptp(np.concatenate([getattr(track, side) for track in result.tracks])) / 1000
            for side in ("east_m", "north_m")
        )
        told = ", ".join(
            f"{100 * (state == kind).mean():.0f}{TIE}% {name}"
            for kind, (name, _) in _LOOKS.items()
            if (state == kind).any()
        )
        parts.append(
            f"{setup_label(result.setup)}: ridden within {wide:.1f} km from west to east and {high:.1f} km from "
            f"south to north; of {count(state.size, 'position')} {told}"
        )
    return f"{'. '.join(parts)}. Track without a map."


def label(state: int) -> str:
    """Return what a state of a position is called."""
    return _LOOKS[state][0]


def _placed(analysis: Analysis) -> list[tuple[int, SetupResult]]:
    return [(index, result) for index, result in enumerate(analysis.setups) if result.tracks]


def _panel(ax: Axes, result: SetupResult, look: SetupStyle) -> None:
    colours = {LEFT_OUT: style.LEFT_OUT, IN_GEAR: look.light, HELD: look.light, RUN: look.dark}
    for track in result.tracks:
        for kind, (label, width) in _LOOKS.items():
            chosen = track.state == kind
            east, north = (np.where(chosen, part, np.nan) for part in (track.east_m, track.north_m))
            ax.plot(east, north, color=colours[kind], linewidth=width, label=label, zorder=2 + kind)
    ax.set_aspect("equal", adjustable="datalim")
    ax.xaxis.set_major_locator(MaxNLocator(nbins=5))
    ax.yaxis.set_major_locator(MaxNLocator(nbins=6))
    ax.set_xlabel("East [m]")
    ax.set_ylabel("North [m]")


def _legend() -> list[Line2D]:
    look = style.setup_style(0)
    colours = (style.LEFT_OUT, look.light, look.light, look.dark)
    return [
        Line2D([], [], color=colour, linewidth=width, label=label)
        for colour, (label, width) in zip(colours, _LOOKS.values(), strict=True)
    ]
