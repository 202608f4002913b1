"""Scales and titles in both units of speed on one picture: the page shows those of the unit that is chosen."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from typing import Final, Literal

from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import ScaledTranslation

from gearfit.records.words import speed_label
from gearfit.report.figures import style
from gearfit.report.tables.in_units import UNITS
from gearfit.units import from_mps

#: Beginning of the id of what is shown in one unit only.
UNIT: Final = "unit:"
#: Ticks, their numbers and grid lines as matplotlib draws them: points.
_TICK_PT: Final = 3.5
_NUMBER_PT: Final = 7.0
_NUMBER_SIZE_PT: Final = 9.0
_TITLE_SIZE_PT: Final = 11.0
#: Mean width of a letter of such a title, which has few capitals.
_CHARACTER_IN: Final = 0.095
_BELOW_CURVES: Final = 0.5
#: matplotlib's markers TICKDOWN and TICKLEFT.
_TICK_DOWN: Final = 3
_TICK_LEFT: Final = 0

Ticks = Callable[[float, float], list[float]]


def round_ticks(lo: float, hi: float) -> list[float]:
    """Return five to nine round numbers between the ends of a scale."""
    found = MaxNLocator(nbins=8, steps=[1, 2, 2.5, 5, 10]).tick_values(lo, hi)
    return [float(tick) + 0.0 for tick in found if lo - 1e-9 * (hi - lo) <= tick <= hi + 1e-9 * (hi - lo)]


def scale(
    ax: Axes,
    side: Literal["x", "y"],
    unit: str,
    label: str,
    *,
    ticks: Ticks = round_ticks,
    per_speed: bool = False,
    grid: bool = True,
) -> None:
    """Give one axis its scale in both units.

    Parameters
    ----------
    ax : Axes
        Limits and direction of the axis are set already; it is drawn in `unit`.
    side : {"x", "y"}
        Which axis.
    unit : {"kmh", "mph"}
        What it is drawn in.
    label : str
        Words beside it, with `{}` for the unit.
    ticks : callable
        Returns the numbers to write between two ends.
    per_speed : bool
        Whether the numbers are so much per unit of speed, and not speeds.
    grid : bool
        Whether there are grid lines.
    """
    other = UNITS[1 - UNITS.index(unit)]
    factor = from_mps(1.0, other) / from_mps(1.0, unit)
    factor = 1 / factor if per_speed else factor
    axis = ax.xaxis if side == "x" else ax.yaxis
    lo, hi = sorted(ax.get_xlim() if side == "x" else ax.get_ylim())
    own = ticks(lo, hi)
    axis.set_ticks(own, labels=_written(own))
    axis.set_ticks([], minor=True)
    axis.set_gid(UNIT + unit)
    axis.set_label_text(label.format(speed_label(unit)))
    _other_scale(ax, side, other, ticks(factor * lo, factor * hi), 1 / factor, grid=grid)
    _other_label(ax, side, other, label.format(speed_label(other)))


def on_two_lines(label: str) -> str:
    """Break a title before what it says of the other unit, for a narrow picture."""
    return label.replace("\N{NO-BREAK SPACE}(", "\n(")


def broken(label: str, width_in: float) -> str:
    """Break a title that is wider than `width_in`: behind its speeds, then before what it says of the other unit."""
    if _fits(label, width_in):
        return label
    speeds, _, rest = label.partition(" ")
    lines = [speeds if _fits(speeds, width_in) else on_two_lines(speeds)]
    return "\n".join([*lines, *textwrap.wrap(rest, max(int(width_in / _CHARACTER_IN), 8))])


def _fits(text: str, width_in: float) -> bool:
    return len(text) * _CHARACTER_IN <= width_in


def title(ax: Axes, unit: str, texts: tuple[str, str]) -> None:
    """Write the title of a panel in km/h and mph."""
    if texts[0] == texts[1]:
        ax.set_title(texts[0])
        return
    own, other = texts if unit == UNITS[0] else texts[::-1]
    ax.set_title(own, gid=UNIT + unit)
    ax.text(
        *(0.0, 1.0, other),
        transform=ax.transAxes + ax.titleOffsetTrans,  # type: ignore[attr-defined]
        fontsize=_TITLE_SIZE_PT,
        fontweight="bold",
        gid=UNIT + UNITS[1 - UNITS.index(unit)],
    )


def _other_scale(ax: Axes, side: str, unit: str, values: list[float], drawn: float, *, grid: bool) -> None:
    """Draw grid lines, ticks and numbers at `values`, each at `drawn` times its value."""
    places = [(drawn * value, 0.0) if side == "x" else (0.0, drawn * value) for value in values]
    across = ax.get_xaxis_transform() if side == "x" else ax.get_yaxis_transform()
    marks = Line2D(
        *zip(*places, strict=True),
        linestyle="none",
        marker=_TICK_DOWN if side == "x" else _TICK_LEFT,
        markersize=_TICK_PT,
        color=style.SOFT_INK,
    )
    lines = [[(x, y), (x, 1.0) if side == "x" else (1.0, y)] for x, y in places]
    for artist in (marks, LineCollection(lines if grid else [], colors=style.RULE, linewidths=0.6)):
        artist.set(transform=across, zorder=_BELOW_CURVES, gid=UNIT + unit)
        ax.add_artist(artist)
        artist.set_clip_on(False)
    shift = (0.0, -_NUMBER_PT / 72) if side == "x" else (-_NUMBER_PT / 72, 0.0)
    beside = across + ScaledTranslation(*shift, ax.figure.dpi_scale_trans)
    ha, va = ("center", "top") if side == "x" else ("right", "center_baseline")
    for place, text in zip(places, _written(values), strict=True):
        ax.text(*place, text, transform=beside, fontsize=_NUMBER_SIZE_PT, ha=ha, va=va, gid=UNIT + unit)


def _other_label(ax: Axes, side: str, unit: str, text: str) -> None:
    own = (ax.xaxis if side == "x" else ax.yaxis).label
    ax.text(
        *own.get_position(),
        text,
        transform=own.get_transform(),
        rotation=own.get_rotation(),
        rotation_mode=own.get_rotation_mode(),
        ha=own.get_horizontalalignment(),
        va=own.get_verticalalignment(),
        fontsize=own.get_fontsize(),
        gid=UNIT + unit,
    )


def _written(values: list[float]) -> list[str]:
    """Write numbers with as many decimals as all of them need."""
    decimals = next((d for d in range(4) if all(abs(round(v, d) - v) < 1e-6 for v in values)), 4)
    return [f"{value:.{decimals}f}".replace("-", "\N{MINUS SIGN}") for value in values]
