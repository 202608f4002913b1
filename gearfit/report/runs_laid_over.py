"""All runs of a span laid over each other from their start, every setup, with mean and band."""

from __future__ import annotations

from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.report import style
from gearfit.report.style import drawable, in_our_style
from gearfit.results import Analysis, MeanCourse, SpanComparison, TimedSpan
from gearfit.units import from_mps
from gearfit.words import number, ordinal, span_label, speed_label

#: Spans in one figure.
MOST_SPANS: Final = 4
_SAME_MPS: Final = 0.05


@in_our_style
def draw(analysis: Analysis, *, narrow: bool = False) -> Figure | None:
    """Draw one panel per compared span; None where no run was found in a ride."""
    shown = _compared(analysis)
    if not shown:
        return None
    columns = 1 if narrow or len(shown) == 1 else 2
    rows = -(-len(shown) // columns)
    figure = style.new_figure(style.NARROW_IN if narrow else style.WIDE_IN, rows * 3.3 + 0.3)
    axes = figure.subplots(rows, columns, squeeze=False)
    for ax in axes.flat[len(shown) :]:
        ax.set_visible(False)
    for ax, (names, span) in zip(axes.flat, shown, strict=False):
        _panel(ax, analysis, names, span)
    return figure


def _compared(analysis: Analysis) -> list[tuple[tuple[str, str], SpanComparison]]:
    return [
        ((comparison.reference, comparison.other), span)
        for comparison in analysis.comparisons
        for span in comparison.timed_spans
        if span.reference.course is not None or span.other.course is not None
    ][:MOST_SPANS]


def _panel(ax: Axes, analysis: Analysis, names: tuple[str, str], span: SpanComparison) -> None:
    unit = analysis.speed_unit
    ax.set_title(_title(span, unit))
    for index, result in enumerate(analysis.setups):
        name = result.setup.name
        if name not in names:
            continue
        look = style.setup_style(index)
        for run in result.timed_spans:
            if run.trace is not None and _belongs(run, span):
                speeds = [from_mps(v, unit) for v in run.trace.speed_mps]
                ax.plot(run.trace.time_s, speeds, color=look.dark, alpha=0.35, linewidth=0.9, zorder=2)
        course = (span.reference if name == names[0] else span.other).course
        if course is not None:
            _mean(ax, course, unit, look, name)
    for target in (span.from_mps, span.to_mps):
        if target > 0:
            ax.axhline(from_mps(target, unit), color=style.SOFT_INK, linewidth=0.9, linestyle=(0, (4, 3)), zorder=1)
    ax.set_xlim(left=-0.5)
    ax.set_xlabel("Time from the start [s]")
    ax.set_ylabel(f"Speed [{speed_label(unit)}]")
    ax.legend(loc="lower right", fontsize=8)


def _mean(ax: Axes, course: MeanCourse, unit: str, look: style.SetupStyle, name: str) -> None:
    low, mean, high = ([from_mps(v, unit) for v in part] for part in (course.low_mps, course.mean_mps, course.high_mps))
    ax.fill_between(course.time_s, low, high, color=look.light, alpha=0.6, linewidth=0, zorder=1.5)
    ax.plot(course.time_s, mean, color=look.dark, linewidth=2.2, label=drawable(f"mean {name}"), zorder=3)


def _title(span: SpanComparison, unit: str) -> str:
    name = span_label(span.from_mps, span.to_mps, unit)
    if span.how == "roll-on" and span.gears:
        return f"{name}, {ordinal(span.gears[0])} gear"
    return f"{name}, {span.how}" if span.how else name


def _belongs(run: TimedSpan, span: SpanComparison) -> bool:
    same = abs(run.from_mps - span.from_mps) < _SAME_MPS and abs(run.to_mps - span.to_mps) < _SAME_MPS
    if span.kind == "ride":
        same = same and run.how == span.how and (span.how != "roll-on" or run.gears == span.gears)
    return same


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    further = " Further spans are in the table only." if len(_compared(analysis)) == MOST_SPANS else ""
    return (
        "Thin lines are single runs as found in the ride, smoothed and laid over each other from their start; the "
        "thick line is their mean, the band one standard deviation between runs. Dashed: the speeds of the span."
        + further
    )


def alt(analysis: Analysis) -> str:
    """State the content for a reader who cannot see the figure."""
    parts = [
        f"{_title(span, analysis.speed_unit)}: {names[0]} {number(span.reference.mean_s)} s in {span.reference.n}, "
        f"{names[1]} {number(span.other.mean_s)} s in {span.other.n}"
        for names, span in _compared(analysis)
    ]
    return f"Speed against time from the start, all runs. {'; '.join(parts)}."
