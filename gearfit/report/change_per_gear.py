"""Change of each gear, other setup against reference, beside what the tooth counts predict."""

from __future__ import annotations

import math
from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator

from gearfit.report import style
from gearfit.report.style import SetupStyle, in_our_style
from gearfit.results import Analysis, Comparison, Estimate, GearChange
from gearfit.words import number, ordinal, setup_label, value, value_and_interval

#: Distance of setups beside each other, in gears.
_SIDE_STEP: Final = 0.16


@in_our_style
def draw(analysis: Analysis, *, narrow: bool = False) -> Figure | None:
    """Draw all comparisons with gears into one panel; None where there is none."""
    shown = compared(analysis)
    if not shown:
        return None
    several = len(shown) > 1
    figure = style.new_figure(
        style.NARROW_IN if narrow else style.WIDE_IN, (3.3 if narrow else 4.2) + (0.3 * len(shown) if several else 0)
    )
    ax = figure.subplots()
    draw_panel(ax, analysis, shown)
    if narrow:
        ax.set_ylabel("Change of road speed [%]")
    width_in = figure.get_figwidth() - 0.8
    ax.set_title(style.in_lines(title(shown), width_in))
    if several:
        handles = [_handle(analysis, comparison, width_in) for comparison in shown]
        dashes = [line for line in ax.get_lines() if line.get_label() == "tooth counts"][:1]
        figure.legend(handles=[*handles, *dashes], loc="outside lower center", ncols=1)
    return figure


def compared(analysis: Analysis) -> list[Comparison]:
    """Return the comparisons that hold gears."""
    return [comparison for comparison in analysis.comparisons if comparison.gears]


def title(shown: list[Comparison]) -> str:
    """Say what is held against what."""
    if len(shown) == 1:
        return f"{shown[0].other} against {shown[0].reference}"
    return f"Against {shown[0].reference}"


def index_of(analysis: Analysis, comparison: Comparison) -> int:
    """Return the place of the comparison's other setup, which gives its colour."""
    return [result.setup.name for result in analysis.setups].index(comparison.other)


def place(shown: list[Comparison], number: int, gear: int) -> float:
    """Return where on the axis of gears the comparison of this number stands."""
    return gear + min(_SIDE_STEP, 0.7 / len(shown)) * (number - (len(shown) - 1) / 2)


def draw_panel(ax: Axes, analysis: Analysis, shown: list[Comparison], *, scale: float = 1.0) -> None:
    """Draw comparisons into `ax`; `scale` enlarges markers, lines and words alike."""
    gears = sorted({change.gear for comparison in shown for change in comparison.gears})
    ax.set_xlim(min(gears) - 0.6, max(gears) + 0.6)
    ax.xaxis.set_major_locator(FixedLocator(gears))
    ax.set_xlabel("Gear")
    ax.set_ylabel("Change of road speed at the same rpm [%]")
    ax.grid(visible=False, axis="x")
    for place_of, comparison in enumerate(shown):
        look = style.setup_style(index_of(analysis, comparison))
        _bands(ax, comparison, scale, look.light)
        for change in comparison.gears:
            at = place(shown, place_of, change.gear)
            _gear(ax, change, at, look, scale)
            if change.consistent is False:
                _mark(ax, at, change.change_percent.value, scale, to_left=change.gear == gears[-1])
    if len(shown) == 1:
        _legend(ax, shown[0], scale)
    _room(ax, shown)


def _gear(ax: Axes, change: GearChange, at: float, look: SetupStyle, scale: float) -> None:
    out = change.consistent is False
    ax.errorbar(
        [at],
        [change.change_percent.value],
        yerr=_error_bar(change.change_percent),
        fmt="X" if out else look.marker,
        color=look.dark,
        markersize=(10 if out else 7) * scale,
        markeredgecolor=style.INK if out else look.dark,
        elinewidth=1.8 * scale,
        capsize=4 * scale,
        capthick=1.4 * scale,
        label=f"gear {change.gear}",
        gid=f"tip:{ordinal(change.gear)} gear: {value_and_interval(change.change_percent, '%', signed=True)}",
        zorder=3,
    )


def _bands(ax: Axes, comparison: Comparison, scale: float, tint: str) -> None:
    overall = comparison.all_gears_change_percent
    if overall is not None:
        if math.isfinite(overall.lo95) and math.isfinite(overall.hi95):
            ax.axhspan(overall.lo95, overall.hi95, color=tint, alpha=0.35, linewidth=0, label="all gears, 95 %")
        ax.axhline(overall.value, color=tint, linewidth=1.6 * scale, label="all gears", zorder=1.5)
    if comparison.predicted_change_percent is not None:
        ax.axhline(
            comparison.predicted_change_percent,
            color=style.INK,
            linewidth=1.4 * scale,
            linestyle=(0, (5, 3)),
            label="tooth counts",
            zorder=2,
        )


def _legend(ax: Axes, comparison: Comparison, scale: float) -> None:
    handles = [
        handle for handle in ax.get_legend_handles_labels()[0] if handle.get_label() in ("all gears", "tooth counts")
    ]
    labels = {
        "all gears": f"all gears {value(comparison.all_gears_change_percent, signed=True)} %, band: 95 %",
        "tooth counts": f"tooth counts {number(comparison.predicted_change_percent, signed=True)} %",
    }
    if handles:
        named = [labels[str(handle.get_label())] for handle in handles]
        ax.legend(handles, named, loc="lower left", bbox_to_anchor=(0, 0), fontsize=9 * scale)


def _handle(analysis: Analysis, comparison: Comparison, width_in: float) -> Line2D:
    index = index_of(analysis, comparison)
    look = style.setup_style(index)
    change = value(comparison.all_gears_change_percent, signed=True)
    label = f"{setup_label(analysis.setups[index].setup)}: all gears {change} %"
    if comparison.predicted_change_percent is not None:
        label += f", tooth counts {number(comparison.predicted_change_percent, signed=True)} %"
    return Line2D([], [], color=look.dark, marker=look.marker, linewidth=1.8, label=style.in_lines(label, width_in))


def _mark(ax: Axes, across: float, at: float, scale: float, *, to_left: bool) -> None:
    ax.annotate(
        "out of line",
        (across, at),
        xytext=((-10 if to_left else 10) * scale, 0),
        textcoords="offset points",
        ha="right" if to_left else "left",
        va="center",
        fontsize=9 * scale,
        zorder=4,
    )


def _room(ax: Axes, shown: list[Comparison]) -> None:
    """Leave room below for a legend and above for words; always show at least one per cent."""
    marks = [c.predicted_change_percent for c in shown if c.predicted_change_percent is not None]
    for comparison in shown:
        for change in comparison.gears:
            estimate = change.change_percent
            marks += [end for end in (estimate.value, estimate.lo95, estimate.hi95) if math.isfinite(end)]
    span = max(max(marks) - min(marks), 1.0)
    ax.set_ylim(min(marks) - (0.42 if len(shown) == 1 else 0.1) * span, max(marks) + 0.2 * span)


def _error_bar(estimate: Estimate) -> list[list[float]] | None:
    below, above = estimate.value - estimate.lo95, estimate.hi95 - estimate.value
    if not (math.isfinite(below) and math.isfinite(above)):
        return None
    return [[max(below, 0.0)], [max(above, 0.0)]]


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    return (
        "How much faster (+) or slower (−) the wheel turns at the same engine speed, gear by gear, with 95 % "
        "intervals. A sprocket moves every gear by the same percentage, so the marks should lie on one level line. One "
        "interval in twenty misses it by chance; “out of line” is said only of a gear that is off beyond that."
    )


def alt(analysis: Analysis) -> str:
    """State the content for a reader who cannot see the figure."""
    parts = []
    for comparison in analysis.comparisons:
        gears = ", ".join(
            f"{ordinal(change.gear)} {value_and_interval(change.change_percent, '%', signed=True)}"
            + (", out of line" if change.consistent is False else "")
            for change in comparison.gears
        )
        text = f"{comparison.other} against {comparison.reference}: {gears}"
        if comparison.predicted_change_percent is not None:
            text += f"; the tooth counts say {number(comparison.predicted_change_percent, signed=True)} %"
        parts.append(text)
    return f"Change per gear with 95 % intervals. {'. '.join(parts)}."
