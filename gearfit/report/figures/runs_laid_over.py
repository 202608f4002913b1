"""All runs ridden alike laid over each other from their start, every setup, with mean and band."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.records.results import Analysis, MeanCourse, RunTrace, SetupResult
from gearfit.records.words import count, number, span_name
from gearfit.report.figures import both_units, style
from gearfit.report.figures.panels import Room, most_lines
from gearfit.report.figures.panels import panels as at_places
from gearfit.report.figures.run_groups import Group, compared, groups_of, runs_in
from gearfit.report.figures.style import drawable, in_our_style
from gearfit.report.figures.timed_runs import difference_words
from gearfit.report.tables.in_units import UNITS
from gearfit.units import from_mps

#: Panels in one figure.
MOST_SPANS: Final = 4


@dataclass(frozen=True)
class Panel:
    """One group of runs, and the mean course of each setup that has one, by name."""

    group: Group
    courses: dict[str, MeanCourse]


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one panel per compared group, all setups in it; None where no run was found in a ride."""
    shown = panels(analysis)
    if not shown:
        return None
    room = Room(down=0.62)
    panel_in = style.WIDTH_IN - room.left - room.right
    titles = [_titles(panel.group, panel_in) for panel in shown]
    lines = [text for pair in titles for text in pair]
    height_in = len(shown) * (3.11 + 0.19 * most_lines(lines)) + 0.3
    figure, axes = at_places(style.WIDTH_IN, height_in, len(shown), room=room.under(lines))
    for ax, panel, texts in zip(axes, shown, titles, strict=True):
        both_units.title(ax, analysis.speed_unit, texts)
        _panel(ax, analysis, panel)
    return figure


def _titles(group: Group, width_in: float) -> tuple[str, str]:
    kmh, mph = (both_units.broken(span_name(group, unit), width_in) for unit in UNITS)
    return kmh, mph


def panels(analysis: Analysis) -> list[Panel]:
    """Return the panels that are drawn, at most `MOST_SPANS`."""
    return _compared(analysis)[:MOST_SPANS]


def lines_of(analysis: Analysis, panel: Panel) -> list[tuple[str, RunTrace | MeanCourse]]:
    """Return the lines of a panel with their names: of each setup the mean, then its runs."""
    lines: list[tuple[str, RunTrace | MeanCourse]] = []
    for result in analysis.setups:
        name = result.setup.name
        runs = _runs(result, panel.group)
        if name in panel.courses:
            lines.append((f"mean {name}", panel.courses[name]))
        lines += [(f"{name}, run {number} of {len(runs)}", trace) for number, trace in enumerate(runs, start=1)]
    return lines


def _compared(analysis: Analysis) -> list[Panel]:
    """Bring the comparisons of one group together."""
    found = []
    for group in groups_of(analysis):
        sides = [
            side
            for comparison, span in compared(analysis, group)
            for side in ((comparison.reference, span.reference), (comparison.other, span.other))
        ]
        courses = {name: summary.course for name, summary in sides if summary.course is not None}
        if courses:
            found.append(Panel(group, courses))
    return found


def _runs(result: SetupResult, group: Group) -> list[RunTrace]:
    return [run.trace for run in runs_in(result.timed_spans, group) if run.trace is not None]


def _panel(ax: Axes, analysis: Analysis, panel: Panel) -> None:
    unit = analysis.speed_unit
    for index, result in enumerate(analysis.setups):
        look = style.setup_style(index)
        for trace in _runs(result, panel.group):
            speeds = [from_mps(v, unit) for v in trace.speed_mps]
            ax.plot(trace.time_s, speeds, color=look.dark, alpha=0.35, linewidth=0.9, zorder=2)
        course = panel.courses.get(result.setup.name)
        if course is not None:
            _mean(ax, course, unit, look, result.setup.name)
    for target in (panel.group.from_mps, panel.group.to_mps):
        if target > 0:
            ax.axhline(from_mps(target, unit), color=style.SOFT_INK, linewidth=0.9, linestyle=(0, (4, 3)), zorder=1)
    ax.set_xlim(left=-0.5)
    ax.set_xlabel("Time from the start [s]")
    both_units.scale(ax, "y", unit, "Speed [{}]")
    ax.legend(loc="lower right", fontsize=9)


def _mean(ax: Axes, course: MeanCourse, unit: str, look: style.SetupStyle, name: str) -> None:
    low, mean, high = ([from_mps(v, unit) for v in part] for part in (course.low_mps, course.mean_mps, course.high_mps))
    ax.fill_between(course.time_s, low, high, color=look.light, alpha=0.6, linewidth=0, zorder=1.5)
    ax.plot(course.time_s, mean, color=look.dark, linewidth=2.2, label=drawable(f"mean {name}"), zorder=3)


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    further = " Further spans are in the table only." if len(_compared(analysis)) > MOST_SPANS else ""
    return (
        "Thin lines are single runs as found in the ride, smoothed and laid over each other from their start; the "
        "thick line is their mean, the band one standard deviation between runs. Dashed: the speeds of the span."
        + further
    )


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    parts = []
    for panel in panels(analysis):
        means, differences = {}, []
        for comparison, span in compared(analysis, panel.group):
            means[comparison.reference], means[comparison.other] = span.reference, span.other
            differences.append(f"{comparison.other} {difference_words(span)} {comparison.reference}")
        told = [f"{name} {number(mean.mean_s)} s, mean of {count(mean.n, 'run')}" for name, mean in means.items()]
        parts.append(f"{span_name(panel.group, analysis.speed_unit)}: {'; '.join([*differences, *told])}")
    return f"{'. '.join(parts)}. Speed against time from the start, all runs."
