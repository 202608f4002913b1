"""Runs that belong together: over one span and ridden alike, as they were compared, or else as they were found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from gearfit.records.results import Analysis, Comparison, SpanComparison, SpanSummary, TimedSpan

#: What a group is told by: a comparison of its runs, or one of them where nothing was compared.
Group = SpanComparison | TimedSpan
_SAME_MPS: Final = 0.05


def groups_of(analysis: Analysis) -> list[Group]:
    """Return the groups of all setups, those compared first, each once."""
    groups: list[Group] = []
    for comparison in analysis.comparisons:
        for span in comparison.timed_spans:
            if not any(alike(span, known) for known in groups):
                groups.append(span)
    runs = [run for result in analysis.setups for run in result.timed_spans]
    for run in sorted(runs, key=lambda run: (run.from_mps, run.to_mps)):
        if not any(belongs(run, known) for known in groups):
            groups.append(run)
    return groups


def runs_in(runs: Sequence[TimedSpan], group: Group) -> list[TimedSpan]:
    """Return the runs of one group."""
    return [run for run in runs if belongs(run, group)]


def compared(analysis: Analysis, group: Group) -> list[tuple[Comparison, SpanComparison]]:
    """Return every comparison of a group."""
    return [
        (comparison, span)
        for comparison in analysis.comparisons
        for span in comparison.timed_spans
        if alike(span, group)
    ]


def summary_of(analysis: Analysis, name: str, group: Group) -> SpanSummary | None:
    """Return the mean of one setup's runs where a comparison has it; that of most runs where several have."""
    found = [
        span.reference if comparison.reference == name else span.other
        for comparison, span in compared(analysis, group)
        if name in (comparison.reference, comparison.other)
    ]
    return max(found, key=lambda summary: summary.n, default=None)


def alike(one: Group, other: Group) -> bool:
    """Whether two groups are the same one."""
    return _over_one_span(one, other) and _manner(one) == _manner(other)


def belongs(run: TimedSpan, group: Group) -> bool:
    """Whether a run is one of a group; where rides and stopwatch were compared, all over the span are."""
    return _over_one_span(run, group) and (group.kind == "ride and stopwatch" or _manner(run) == _manner(group))


def _over_one_span(one: Group, other: Group) -> bool:
    return abs(one.from_mps - other.from_mps) < _SAME_MPS and abs(one.to_mps - other.to_mps) < _SAME_MPS


def _manner(group: Group) -> tuple[str, str, tuple[int, ...]]:
    return group.kind, group.how, group.gears_alike
