"""Timed runs: every run a mark, the mean a bar, one strip for each group of runs ridden alike."""

from __future__ import annotations

from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.records.results import Analysis, SpanComparison
from gearfit.records.words import count, number, span_name, value_and_interval
from gearfit.report.figures import both_units, style
from gearfit.report.figures.panels import Room, most_lines, panels
from gearfit.report.figures.run_groups import Group, compared, groups_of, runs_in, summary_of
from gearfit.report.figures.style import drawable, in_our_style
from gearfit.report.tables.in_units import UNITS

#: Strips in one figure; the table has the rest.
MOST_STRIPS: Final = 6
#: Room for a letter of a name, and for the mean beside a strip.
_LETTER_IN: Final = 0.085
_MEAN_IN: Final = 1.5
#: Height of a setup's row.
_ROW_IN: Final = 0.32


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one strip per group, one row per setup in it; None where no run was timed."""
    groups = strips(analysis)
    if not groups:
        return None
    rows = len(analysis.setups)
    names = [drawable(_shortened(result.setup.name)) for result in analysis.setups]
    left_in = 0.2 + _LETTER_IN * max(map(len, names))
    titles = [_titles(group, style.WIDTH_IN - left_in) for group in groups]
    lines = [text for pair in titles for text in pair]
    figure, axes = panels(
        style.WIDTH_IN,
        len(groups) * (0.43 + 0.19 * most_lines(lines) + _ROW_IN * rows) + 0.4,
        len(groups),
        room=Room(left=left_in, right=_MEAN_IN).under(lines),
    )
    for ax, group, texts in zip(axes, groups, titles, strict=True):
        both_units.title(ax, analysis.speed_unit, texts)
        _strip(ax, analysis, group, names)
    axes[-1].set_xlabel("Time [s]")
    return figure


def strips(analysis: Analysis) -> list[Group]:
    """Return the groups that are drawn."""
    return groups_of(analysis)[:MOST_STRIPS]


def _titles(group: Group, width_in: float) -> tuple[str, str]:
    kmh, mph = (both_units.broken(span_name(group, unit), width_in) for unit in UNITS)
    return kmh, mph


def _strip(ax: Axes, analysis: Analysis, group: Group, names: list[str]) -> None:
    for index, result in enumerate(analysis.setups):
        look = style.setup_style(index)
        runs = runs_in(result.timed_spans, group)
        if runs:
            ax.hlines(
                [index] * len(runs),
                [run.time_s.lo95 for run in runs],
                [run.time_s.hi95 for run in runs],
                color=look.dark,
                linewidth=1.1,
                alpha=0.45,
                zorder=1.8,
            )
        for place, run in enumerate(runs):
            ax.plot(
                [run.time_s.value],
                [index],
                linestyle="none",
                marker=look.marker,
                markersize=7,
                markerfacecolor=look.light,
                markeredgecolor=look.dark,
                alpha=0.9,
                label=result.setup.name if place == 0 else None,
                gid=f"tip:{result.setup.name}, run {place + 1} of {len(runs)}: {value_and_interval(run.time_s, 's')}",
                zorder=2,
            )
        summary = summary_of(analysis, result.setup.name, group)
        if summary is not None and summary.n > 1:
            ax.plot(
                [summary.mean_s] * 2,
                [index - 0.34, index + 0.34],
                color=look.dark,
                linewidth=3,
                solid_capstyle="butt",
                label=f"mean {result.setup.name}",
                zorder=3,
            )
        if summary is not None:
            words = f"mean {number(summary.mean_s)} s ({count(summary.n, 'run')})" if summary.n > 1 else "one run"
            ax.annotate(words, (1.01, index), xycoords=("axes fraction", "data"), va="center", fontsize=9)
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.4, -0.6)
    ax.margins(x=0.08)
    ax.grid(visible=False, axis="y")


def _shortened(name: str, most: int = 14) -> str:
    return name if len(name) <= most else name[: most - 1] + "…"


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    text = (
        "Each mark is one run, the thin line its own 95 % interval, the bar the mean of the runs. Further left is "
        "quicker; each strip has its own time axis and holds runs that were ridden alike."
    )
    further = len(groups_of(analysis)) - MOST_STRIPS
    return f"{text} {count(further, 'further group')} in the table only." if further > 0 else text


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    parts = []
    for group in strips(analysis):
        told = []
        for result in analysis.setups:
            times = [run.time_s.value for run in runs_in(result.timed_spans, group)]
            if times:
                ends = number(times[0]) if len(times) == 1 else f"{number(min(times))} to {number(max(times))}"
                told.append(f"{result.setup.name} {count(len(times), 'run')} of {ends} s")
        differences = [
            f"{comparison.other} {difference_words(span)} {comparison.reference}"
            for comparison, span in compared(analysis, group)
        ]
        parts.append(f"{span_name(group, analysis.speed_unit)}: {'; '.join([*differences, *told])}")
    return f"{'. '.join(parts)}."


def difference_words(span: SpanComparison) -> str:
    """Say what the difference of a span shows, to stand between the names of the two setups."""
    difference = span.difference_s
    if difference is None:
        return "cannot be compared from one run with"
    if difference.contains(0.0):
        return "is not shown to differ from"
    return f"takes {number(abs(difference.value))} s {'less' if difference.value < 0 else 'more'} than"
