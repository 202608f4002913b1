"""The page's tables of timed spans: what they show, and what the two directions of the road show."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from gearfit.records import words
from gearfit.records.results import Analysis, Comparison, SpanComparison, SpanSummary
from gearfit.report.tables.cells import Cell, Column, Table, estimate_cell, table_of, with_words
from gearfit.report.tables.run_tables import corrections

_NAME: Final = "timed-spans"
_REMARK: Final = (
    "Mean time, below it the number of runs and the scatter of single runs (standard deviation). A minus means "
    "quicker. “Runs to settle it”: in each setup, to show the measured difference four times out of five (95 % "
    "interval)."
)
_COULD_SHOW: Final = (
    "As much by chance: of all ways to deal the runs out to the setups, how many differ as much. Least: the difference "
    "that runs like these show four times out of five. Runs: in each setup, to show the difference that was measured, "
    "or that the gearing alone predicts, four times out of five, and the 95 % interval."
)
_TWO_WAYS: Final = (
    "There is the direction of the first run. The two-way mean is 2 / (1/there + 1/back) of the mean times, as speeds "
    "are averaged. There less back: wind and slope together."
)


def timed_tables(analysis: Analysis) -> list[Table]:
    """Return the tables of compared spans for which there are data."""
    shown = [comparison for comparison in analysis.comparisons if comparison.timed_spans]
    if not shown:
        return []
    table = _one(analysis, shown[0]) if len(shown) == 1 else _several(analysis, shown)
    return [table, *_could_show(analysis, shown), *_both_ways(analysis, shown)]


def _one(analysis: Analysis, comparison: Comparison) -> Table:
    spans = comparison.timed_spans
    columns: list[Column] = [
        ("Span", [words.span_name(span, analysis.speed_unit) for span in spans]),
        (f"{comparison.reference} [s]", [_summary(span.reference) for span in spans]),
        (f"{comparison.other} [s]", [_summary(span.other) for span in spans]),
        *_found(analysis, spans),
    ]
    return table_of(f"Timed spans, {comparison.other} against {comparison.reference}", columns, _REMARK, _NAME)


def _several(analysis: Analysis, shown: Sequence[Comparison]) -> Table:
    """Bring each span's setups together, the reference first."""
    found: dict[str, list[tuple[str, SpanSummary, SpanComparison | None]]] = {}
    for comparison in shown:
        for span in comparison.timed_spans:
            lines = found.setdefault(
                words.span_name(span, analysis.speed_unit), [(comparison.reference, span.reference, None)]
            )
            lines.append((comparison.other, span.other, span))
    rows = [(name, *line) for name, lines in found.items() for line in lines]
    columns: list[Column] = [
        ("Span", [name for name, *_ in rows]),
        ("Setup", [setup for _, setup, _, _ in rows]),
        ("Mean [s]", [_summary(summary) for _, _, summary, _ in rows]),
        *_found(analysis, [span for *_, span in rows]),
    ]
    return table_of(f"Timed spans, against {shown[0].reference}", columns, _REMARK, _NAME)


def _found(analysis: Analysis, spans: Sequence[SpanComparison | None]) -> list[Column]:
    """Return the columns of differences; `None` stands for the reference itself."""
    standards = corrections(analysis)
    corrected = f"Difference corrected by {standards[0]} [s]" if len(standards) == 1 else ""
    return [
        ("Difference [s]", [_difference(span) for span in spans]),
        *with_words([(corrected, [_corrected(span) for span in spans])] if corrected else []),
        ("Gearing alone predicts [s]", [_predicted(span) for span in spans]),
        ("Runs to settle it", [_settling(span) for span in spans]),
    ]


def _difference(span: SpanComparison | None) -> Cell:
    if span is None:
        return Cell("reference")
    if span.difference_s is None:
        return Cell(words.NOTHING, "one run is no comparison")
    return estimate_cell(span.difference_s, signed=True)


def _corrected(span: SpanComparison | None) -> Cell:
    return estimate_cell(span.corrected_difference_s if span else None, signed=True)


def _predicted(span: SpanComparison | None) -> Cell:
    return estimate_cell(span.predicted_difference_s if span else None, signed=True)


def _settling(span: SpanComparison | None) -> str:
    """Write from how many to how many runs, or that nobody would ride so many."""
    if span is None:
        return words.NOTHING
    return words.runs_interval(span.runs_needed_lo95, span.runs_needed_hi95) or f"over {words.MOST_RIDDEN}"


def _needed(span: SpanComparison) -> Cell:
    return _runs(span.runs_needed_per_setup, span.runs_needed_lo95, span.runs_needed_hi95)


def _foretold(span: SpanComparison) -> Cell:
    if span.predicted_difference_s is None:
        return Cell(words.NOTHING)
    return _runs(span.runs_for_prediction, span.runs_for_prediction_lo95, span.runs_for_prediction_hi95)


def _runs(needed: int | None, lo95: int | None, hi95: int | None) -> Cell:
    """Show a number of runs, as far as anybody would ride it, with its interval below."""
    beyond = needed is None or needed > words.MOST_RIDDEN
    return Cell(f"over {words.MOST_RIDDEN}" if beyond else str(needed), words.runs_interval(lo95, hi95))


def _summary(summary: SpanSummary) -> Cell:
    scatter = "" if summary.sd_s is None else f", ±{words.TIE}{words.number(summary.sd_s)}"
    return Cell(words.number(summary.mean_s), f"{words.count(summary.n, 'run')}{scatter}")


def _could_show(analysis: Analysis, shown: Sequence[Comparison]) -> list[Table]:
    """Return the table of what the runs could have shown, for spans that two setups rode more than once."""
    found = [
        (comparison.other, span)
        for comparison in shown
        for span in comparison.timed_spans
        if span.least_shown_s is not None
    ]
    if not found:
        return []
    spans = [span for _, span in found]
    columns: list[Column] = [
        ("Span", [words.span_name(span, analysis.speed_unit) for span in spans]),
        *([("Setup", [setup for setup, _ in found])] if len(shown) > 1 else []),
        ("As much by chance [%]", [_percent(span.permutation_p) for span in spans]),
        ("Least they could show [s]", [words.number(span.least_shown_s) for span in spans]),
        ("Runs for the measured difference", [_needed(span) for span in spans]),
        *with_words([("Runs for the predicted one", [_foretold(span) for span in spans])]),
    ]
    return [table_of("What these runs could show", columns, _COULD_SHOW, "could-show")]


def _percent(share: float | None) -> str:
    return words.number(None if share is None else 100 * share, 1)


def _both_ways(analysis: Analysis, shown: Sequence[Comparison]) -> list[Table]:
    """Return the table of the two directions, a row a span and setup that was ridden both ways."""
    found = {
        (words.span_name(span, analysis.speed_unit), setup): summary
        for comparison in shown
        for span in comparison.timed_spans
        for setup, summary in ((comparison.reference, span.reference), (comparison.other, span.other))
        if summary.two_way_mean_s is not None
    }
    if not found:
        return []
    columns: list[Column] = [
        ("Span", [name for name, _ in found]),
        ("Setup", [setup for _, setup in found]),
        ("There", [words.count(summary.there, "run") for summary in found.values()]),
        ("Back", [words.count(summary.back, "run") for summary in found.values()]),
        ("Two-way mean [s]", [words.number(summary.two_way_mean_s) for summary in found.values()]),
        ("There less back [s]", [estimate_cell(summary.direction_gap_s, signed=True) for summary in found.values()]),
    ]
    return [table_of("Runs both ways", columns, _TWO_WAYS, "both-ways")]
