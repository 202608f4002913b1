"""The page's table of timed spans."""

from __future__ import annotations

from typing import Final

from gearfit import words
from gearfit.report.cells import Cell, Table, estimate_cell, row
from gearfit.results import Analysis, Comparison, SpanComparison, SpanSummary

_REMARK: Final = (
    "Mean time, below it the number of runs and the scatter of single runs (standard deviation). A minus means "
    "quicker. “Runs to settle it”: in each setup, to show a difference of this size four times out of five."
)


def spans_table(analysis: Analysis) -> Table:
    """Return the spans with means, differences and what the gearing alone predicts; a row a setup where several."""
    shown = [comparison for comparison in analysis.comparisons if comparison.timed_spans]
    return _one(shown[0], analysis.speed_unit) if len(shown) == 1 else _several(shown, analysis.speed_unit)


def _one(comparison: Comparison, unit: str) -> Table:
    names = (comparison.reference, comparison.other)
    return Table(
        f"Timed spans, {comparison.other} against {comparison.reference}",
        (
            "Span",
            *(f"{name} [s]" for name in names),
            "Difference [s]",
            "Gearing alone predicts [s]",
            "Runs to settle it",
        ),
        tuple(_span(span, unit) for span in comparison.timed_spans),
        _REMARK,
        "timed-spans",
    )


def _several(shown: list[Comparison], unit: str) -> Table:
    """Bring each span's setups together, the reference first."""
    spans: dict[str, list[tuple[Cell, ...]]] = {}
    for comparison in shown:
        for span in comparison.timed_spans:
            label = words.span_label(span.from_mps, span.to_mps, unit)
            label += f", {span.how}" if span.how and span.from_mps > 0 else ""
            if span.how == "roll-on" and span.gears:
                label += f" in {words.ordinal(span.gears[0])} gear"
            first = row(
                label, comparison.reference, _summary(span.reference), "reference", words.NOTHING, words.NOTHING
            )
            _, _, other, *rest = _span(span, unit)
            spans.setdefault(label, [first]).append(row(label, comparison.other, other, *rest))
    head = ("Span", "Setup", "Mean [s]", "Difference [s]", "Gearing alone predicts [s]", "Runs to settle it")
    rows = tuple(line for lines in spans.values() for line in lines)
    return Table(f"Timed spans, against {shown[0].reference}", head, rows, _REMARK, "timed-spans")


def _span(span: SpanComparison, unit: str) -> tuple[Cell, ...]:
    difference = span.difference_s
    needed = span.runs_needed_per_setup
    return row(
        words.span_label(span.from_mps, span.to_mps, unit),
        _summary(span.reference),
        _summary(span.other),
        Cell(words.NOTHING, "one run is no comparison")
        if difference is None
        else estimate_cell(difference, signed=True),
        estimate_cell(span.predicted_difference_s, signed=True),
        words.NOTHING if needed is None else words.whole(needed),
    )


def _summary(summary: SpanSummary) -> Cell:
    scatter = "" if summary.sd_s is None else f", ±{words.TIE}{words.number(summary.sd_s)}"
    return Cell(words.number(summary.mean_s), f"{words.count(summary.n, 'run')}{scatter}")
