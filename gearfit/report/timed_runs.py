"""Timed runs: every run a mark, the mean a bar, one strip per span."""

from __future__ import annotations

import math
from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.report import both_units, style
from gearfit.report.in_units import UNITS
from gearfit.report.panels import Room, most_lines, panels
from gearfit.report.style import drawable, in_our_style
from gearfit.results import Analysis, SpanComparison, SpanSummary, TimedSpan
from gearfit.words import count, number, span_label

#: Strips in one figure; the table has the rest.
MOST_SPANS: Final = 8
_SAME_SPEED_MPS: Final = 0.01
#: Room for a letter of a name, and for the mean beside a strip.
_LETTER_IN: Final = 0.085
_MEAN_IN: Final = 1.5
Span = tuple[float, float]


@in_our_style
def draw(analysis: Analysis, *, narrow: bool = False) -> Figure | None:
    """Draw one strip per span, one row per setup in it; None where no run was timed."""
    spans = spans_of(analysis)[:MOST_SPANS]
    if not spans:
        return None
    rows = len(analysis.setups)
    names = [drawable(_shortened(result.setup.name)) for result in analysis.setups]
    titles = [_titles(span, narrow=narrow) for span in spans]
    lines = [text for pair in titles for text in pair]
    figure, axes = panels(
        style.NARROW_IN if narrow else style.WIDE_IN,
        len(spans) * (0.43 + 0.19 * most_lines(lines) + 0.38 * rows) + 0.4,
        len(spans),
        room=Room(left=0.2 + _LETTER_IN * max(map(len, names)), right=_MEAN_IN).under(lines),
    )
    for ax, span, texts in zip(axes, spans, titles, strict=True):
        both_units.title(ax, analysis.speed_unit, texts)
        _strip(ax, analysis, span, names)
    axes[-1].set_xlabel("Time [s]")
    return figure


def _titles(span: Span, *, narrow: bool) -> tuple[str, str]:
    kmh, mph = (span_label(*span, unit) for unit in UNITS)
    return (both_units.on_two_lines(kmh), both_units.on_two_lines(mph)) if narrow else (kmh, mph)


def spans_of(analysis: Analysis) -> list[Span]:
    """Return the spans that were timed in any setup, those compared first, each once."""
    compared = [(span.from_mps, span.to_mps) for comparison in analysis.comparisons for span in comparison.timed_spans]
    timed = sorted((run.from_mps, run.to_mps) for result in analysis.setups for run in result.timed_spans)
    spans: list[Span] = []
    for span in [*compared, *timed]:
        if not any(_same(span, known) for known in spans):
            spans.append(span)
    return spans


def runs_in(runs: tuple[TimedSpan, ...], span: Span) -> list[TimedSpan]:
    """Return the runs over one span."""
    return [run for run in runs if _same((run.from_mps, run.to_mps), span)]


def summary_of(analysis: Analysis, name: str, span: Span) -> SpanSummary | None:
    """Return the mean of one setup's runs where a comparison has it; that of most runs where several have."""
    found = [
        compared.reference if comparison.reference == name else compared.other
        for comparison in analysis.comparisons
        for compared in comparison.timed_spans
        if _same((compared.from_mps, compared.to_mps), span) and name in (comparison.reference, comparison.other)
    ]
    return max(found, key=lambda summary: summary.n, default=None)


def _same(one: Span, other: Span) -> bool:
    return all(math.isclose(a, b, abs_tol=_SAME_SPEED_MPS) for a, b in zip(one, other, strict=True))


def _strip(ax: Axes, analysis: Analysis, span: Span, names: list[str]) -> None:
    for index, result in enumerate(analysis.setups):
        look = style.setup_style(index)
        runs = runs_in(result.timed_spans, span)
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
            ax.plot(
                [run.time_s.value for run in runs],
                [index] * len(runs),
                linestyle="none",
                marker=look.marker,
                markersize=7,
                markerfacecolor=look.light,
                markeredgecolor=look.dark,
                alpha=0.9,
                label=result.setup.name,
                zorder=2,
            )
        summary = summary_of(analysis, result.setup.name, span)
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
        "quicker; each strip has its own time axis."
    )
    further = len(spans_of(analysis)) - MOST_SPANS
    return f"{text} {count(further, 'further span')} in the table only." if further > 0 else text


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    parts = []
    for span in spans_of(analysis)[:MOST_SPANS]:
        told = []
        for result in analysis.setups:
            times = [run.time_s.value for run in runs_in(result.timed_spans, span)]
            if times:
                ends = number(times[0]) if len(times) == 1 else f"{number(min(times))} to {number(max(times))}"
                told.append(f"{result.setup.name} {count(len(times), 'run')} of {ends} s")
        differences = [
            f"{comparison.other} {difference_words(compared)} {comparison.reference}"
            for comparison in analysis.comparisons
            for compared in comparison.timed_spans
            if _same((compared.from_mps, compared.to_mps), span)
        ]
        parts.append(f"{span_label(*span, analysis.speed_unit)}: {'; '.join([*differences, *told])}")
    return f"{'. '.join(parts)}."


def difference_words(compared: SpanComparison) -> str:
    """Say what the difference of a span shows, to stand between the names of the two setups."""
    difference = compared.difference_s
    if difference is None:
        return "cannot be compared from one run with"
    if difference.contains(0.0):
        return "is not shown to differ from"
    return f"takes {number(abs(difference.value))} s {'less' if difference.value < 0 else 'more'} than"
