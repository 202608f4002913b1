"""Change of each gear, other setup against reference, beside what the tooth counts predict."""

from __future__ import annotations

import math
from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator

from gearfit.records.results import Analysis, Comparison, Estimate, GearChange
from gearfit.records.words import NOTHING, TIE, between, number, ordinal, teeth, value, value_and_interval
from gearfit.report.figures import style
from gearfit.report.figures.panels import Room, panels
from gearfit.report.figures.style import SetupStyle, in_our_style

_LABEL: Final = "Change of road speed at the same rpm [%]"


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one strip per comparison with gears, all to one scale; None where there is none."""
    shown = compared(analysis)
    if not shown:
        return None
    several = len(shown) > 1
    height_in = 2.2 * len(shown) + 0.5 if several else 3.3
    titles = [style.in_lines(_title(comparison, several), style.WIDTH_IN - 0.8) for comparison in shown]
    figure, axes = panels(style.WIDTH_IN, height_in, len(shown), room=Room().under(titles), sharex=True)
    for ax, comparison, title in zip(axes, shown, titles, strict=True):
        draw_panel(ax, comparison, index_of(analysis, comparison), legend=not several)
        ax.set_title(title)
        ax.set_ylabel("Change [%]" if several else "Change of road speed [%]")
        ax.label_outer()
    if several:
        one_scale(axes)
    return figure


def compared(analysis: Analysis) -> list[Comparison]:
    """Return the comparisons that hold gears."""
    return [comparison for comparison in analysis.comparisons if comparison.gears]


def index_of(analysis: Analysis, comparison: Comparison) -> int:
    """Return the place of the comparison's other setup, which gives its colour."""
    return [result.setup.name for result in analysis.setups].index(comparison.other)


def _title(comparison: Comparison, several: bool) -> str:
    if not several:
        return f"{comparison.other} against {comparison.reference}"
    told = f"{comparison.other}: all gears {value(comparison.all_gears_change_percent, signed=True)}{TIE}%"
    predicted = comparison.predicted_change_percent
    return told if predicted is None else f"{told}, tooth counts {number(predicted, signed=True)}{TIE}%"


def one_scale(axes: list[Axes]) -> None:
    """Give strips of different changes the same per cent for each inch."""
    ends = [ax.get_ylim() for ax in axes]
    half = max(hi - lo for lo, hi in ends) / 2
    for ax, (lo, hi) in zip(axes, ends, strict=True):
        ax.set_ylim((lo + hi) / 2 - half, (lo + hi) / 2 + half)


def draw_panel(ax: Axes, comparison: Comparison, index: int, *, scale: float = 1.0, legend: bool = True) -> None:
    """Draw one comparison into `ax`; `scale` enlarges markers, lines and words alike."""
    look = style.setup_style(index)
    gears = [change.gear for change in comparison.gears]
    ax.set_xlim(min(gears) - 0.6, max(gears) + 0.6)
    ax.xaxis.set_major_locator(FixedLocator(gears))
    ax.set_xlabel("Gear")
    ax.set_ylabel(_LABEL)
    ax.grid(visible=False, axis="x")
    _bands(ax, comparison, scale, look.light)
    for change in comparison.gears:
        _gear(ax, change, look, scale)
        if change.consistent is False:
            _mark(ax, change.gear, change.change_percent.value, scale, to_left=change.gear == gears[-1])
    if legend:
        _legend(ax, comparison, scale)
    _room(ax, comparison, legend=legend)


def _gear(ax: Axes, change: GearChange, look: SetupStyle, scale: float) -> None:
    out = change.consistent is False
    ax.errorbar(
        [change.gear],
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


def _room(ax: Axes, comparison: Comparison, *, legend: bool) -> None:
    """Leave room below for the legend and above for words; always show at least one per cent."""
    marks = [] if comparison.predicted_change_percent is None else [comparison.predicted_change_percent]
    for change in comparison.gears:
        estimate = change.change_percent
        marks += [end for end in (estimate.value, estimate.lo95, estimate.hi95) if math.isfinite(end)]
    span = max(max(marks) - min(marks), 1.0)
    ax.set_ylim(min(marks) - (0.42 if legend else 0.15) * span, max(marks) + (0.2 if legend else 0.15) * span)


def _error_bar(estimate: Estimate) -> list[list[float]] | None:
    below, above = estimate.value - estimate.lo95, estimate.hi95 - estimate.value
    if not (math.isfinite(below) and math.isfinite(above)):
        return None
    return [[max(below, 0.0)], [max(above, 0.0)]]


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    shown = compared(analysis)
    against = f"Each setup is held against {shown[0].reference}, all to one scale. " if len(shown) > 1 else ""
    return (
        f"{against}"
        "How much faster (+) or slower (−) the wheel turns at the same engine speed, gear by gear, with 95 % "
        "intervals. A sprocket moves every gear by the same percentage, so the marks should lie on one level line. One "
        "interval in twenty misses it by chance; “out of line” is said only of a gear that is off beyond that."
    )


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    return " ".join(f"{said(analysis, comparison)}." for comparison in compared(analysis))


def said(analysis: Analysis, comparison: Comparison) -> str:
    """Say of one comparison whether its gears moved together, and as predicted."""
    odd = [change for change in comparison.gears if change.consistent is False]
    values = [change.change_percent.value for change in comparison.gears if change.consistent is not False]
    name = f"{comparison.other} against {comparison.reference}"
    predicted = _predicted(analysis, comparison)
    if not values:
        moved = between([change.change_percent.value for change in odd], "%")
        return f"{name}: no gear agrees with the others; they moved by {moved}"
    which = "the gears" if any(change.consistent is None for change in comparison.gears) else "every gear"
    which = "each of the other gears" if odd else which
    every = value_and_interval(comparison.all_gears_change_percent, "%", signed=True)
    together = "" if every == NOTHING else f", all that agree together by {every}"
    told = f"{name}: {which} moved by {between(values, '%')}{together}"
    if predicted:
        told += f"; {_agreement(analysis, comparison)} {predicted}"
    for change in odd:
        told += f"; {ordinal(change.gear)} gear is out of line: "
        told += value_and_interval(change.change_percent, "%", signed=True)
    return told


def _agreement(analysis: Analysis, comparison: Comparison) -> str:
    codes = {finding.code for finding in analysis.findings if finding.about in ("", comparison.other)}
    if codes & {"change-disagrees", "change-exchanged"}:
        return "that is not"
    return "it cannot be told yet whether that is" if "change-undecided" in codes else "that is in line with"


def _predicted(analysis: Analysis, comparison: Comparison) -> str:
    if comparison.predicted_change_percent is None:
        return ""
    after, before = (
        teeth(next(result.setup for result in analysis.setups if result.setup.name == name))
        for name in (comparison.other, comparison.reference)
    )
    which = f"{after} instead of {before} teeth predict" if after and before else "the tooth counts predict"
    return f"the {number(comparison.predicted_change_percent, signed=True)}{TIE}% that {which}"
