"""Change of each gear, other setup against reference, beside what the tooth counts predict."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator

from gearfit.report import style
from gearfit.report.style import in_our_style
from gearfit.results import Analysis, Comparison, Estimate
from gearfit.words import number, ordinal, value, value_and_interval


@in_our_style
def draw(analysis: Analysis, *, narrow: bool = False) -> Figure | None:
    """Draw one panel per comparison with gears; None where there is none."""
    shown = [comparison for comparison in analysis.comparisons if comparison.gears]
    if not shown:
        return None
    panels = len(shown)
    width_in = style.NARROW_IN - 0.8 if narrow else style.WIDE_IN / panels - 0.8
    if narrow:
        figure = style.new_figure(style.NARROW_IN, 3.0 * panels + 0.3)
        axes = figure.subplots(panels, 1, squeeze=False)
    else:
        figure = style.new_figure(style.WIDE_IN, 4.2)
        axes = figure.subplots(1, panels, squeeze=False)
    for ax, comparison in zip(axes.flat, shown, strict=True):
        draw_panel(ax, comparison, index_of(analysis, comparison))
        if narrow:
            ax.set_ylabel("Change of road speed [%]")
        ax.set_title(style.in_lines(f"{comparison.other} against {comparison.reference}", width_in))
    return figure


def index_of(analysis: Analysis, comparison: Comparison) -> int:
    """Return the place of the comparison's other setup, which gives its colour."""
    return [result.setup.name for result in analysis.setups].index(comparison.other)


def draw_panel(ax: Axes, comparison: Comparison, index: int, *, scale: float = 1.0) -> None:
    """Draw one comparison into `ax`; `scale` enlarges markers, lines and words alike."""
    look = style.setup_style(index)
    gears = [change.gear for change in comparison.gears]
    ax.set_xlim(min(gears) - 0.6, max(gears) + 0.6)
    ax.xaxis.set_major_locator(FixedLocator(gears))
    ax.set_xlabel("Gear")
    ax.set_ylabel("Change of road speed at the same rpm [%]")
    ax.grid(visible=False, axis="x")
    _bands(ax, comparison, scale, look.light)
    for change in comparison.gears:
        errors = _error_bar(change.change_percent)
        ax.errorbar(
            [change.gear],
            [change.change_percent.value],
            yerr=errors,
            fmt="X" if change.consistent is False else look.marker,
            color=look.dark,
            markersize=(10 if change.consistent is False else 7) * scale,
            markeredgecolor=style.INK if change.consistent is False else look.dark,
            elinewidth=1.8 * scale,
            capsize=4 * scale,
            capthick=1.4 * scale,
            label=f"gear {change.gear}",
            gid=f"tip:{ordinal(change.gear)} gear: {value_and_interval(change.change_percent, '%', signed=True)}",
            zorder=3,
        )
        if change.consistent is False:
            _mark(ax, change.gear, change.change_percent.value, scale, to_left=change.gear == gears[-1])
    _room(ax, comparison)


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
    handles = [
        handle for handle in ax.get_legend_handles_labels()[0] if handle.get_label() in ("all gears", "tooth counts")
    ]
    labels = {
        "all gears": f"all gears {value(overall, signed=True)} %, band: 95 %",
        "tooth counts": f"tooth counts {number(comparison.predicted_change_percent, signed=True)} %",
    }
    if handles:
        named = [labels[str(handle.get_label())] for handle in handles]
        ax.legend(handles, named, loc="lower left", bbox_to_anchor=(0, 0), fontsize=9 * scale)


def _mark(ax: Axes, gear: int, at: float, scale: float, *, to_left: bool) -> None:
    ax.annotate(
        "out of line",
        (gear, at),
        xytext=((-10 if to_left else 10) * scale, 0),
        textcoords="offset points",
        ha="right" if to_left else "left",
        va="center",
        fontsize=9 * scale,
        zorder=4,
    )


def _room(ax: Axes, comparison: Comparison) -> None:
    """Leave room below for the legend and above for words; always show at least one per cent."""
    marks = [] if comparison.predicted_change_percent is None else [comparison.predicted_change_percent]
    for change in comparison.gears:
        estimate = change.change_percent
        marks += [end for end in (estimate.value, estimate.lo95, estimate.hi95) if math.isfinite(end)]
    span = max(max(marks) - min(marks), 1.0)
    ax.set_ylim(min(marks) - 0.42 * span, max(marks) + 0.2 * span)


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
