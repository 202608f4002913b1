"""Further keys of timed spans in results.json, beside those that were there first."""

from __future__ import annotations

from dataclasses import asdict

from gearfit.records.results import SpanComparison, SpanSummary, TimedSpan


def run(span: TimedSpan) -> dict[str, object]:
    """Return how a run was ridden, the parts of its error and what the road and the air were like."""
    return {
        "kind": span.kind,
        "how": span.how or None,
        "gears": list(span.gears),
        "shifts": [asdict(shift) for shift in span.shifts],
        "errors_s": dict(span.errors_s),
        "rollout_time_s": span.rollout_time_s,
        "grade_percent": span.grade_percent,
        "heading_deg": span.heading_deg,
        "corrected_time_s": span.corrected_time_s,
        "from_rest": span.from_rest,
    }


def summary(runs: SpanSummary) -> dict[str, object]:
    """Return the runs' own errors and what the two directions show."""
    return {
        "own_se_s": runs.own_se_s,
        "there": runs.there,
        "back": runs.back,
        "two_way_mean_s": runs.two_way_mean_s,
        "direction_gap_s": runs.direction_gap_s,
    }


def compared(span: SpanComparison) -> dict[str, object]:
    """Return what was compared, the permutation test and what the runs could have shown."""
    return {
        "kind": span.kind,
        "how": span.how or None,
        "gears": list(span.gears),
        "permutation_p": span.permutation_p,
        "least_shown_s": span.least_shown_s,
        "runs_for_prediction": span.runs_for_prediction,
        "runs_needed_lo95": span.runs_needed_lo95,
        "runs_needed_hi95": span.runs_needed_hi95,
        "runs_for_prediction_lo95": span.runs_for_prediction_lo95,
        "runs_for_prediction_hi95": span.runs_for_prediction_hi95,
        "corrected_difference_s": span.corrected_difference_s,
    }
