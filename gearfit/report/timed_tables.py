"""The page's table of timed spans."""

from __future__ import annotations

from gearfit import words
from gearfit.report.cells import Cell, Table, estimate_cell, row
from gearfit.results import Comparison, SpanComparison, SpanSummary


def spans_table(comparison: Comparison, unit: str) -> Table:
    """Return one row per span: both setups, the difference, what the gearing alone predicts."""
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
        "Mean time, below it the number of runs and the scatter of single runs (standard deviation). A minus means "
        "quicker. “Runs to settle it”: in each setup, to show a difference of this size four times out of five.",
        "timed-spans",
    )


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
