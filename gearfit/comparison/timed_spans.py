"""Timed runs, one setup against the other: the scatter decides, not the arithmetic.

Difference of means by Welch (B. L. Welch, Biometrika 34, 28, 1947), each run weighted by its own error and the scatter
between runs; a permutation test as a check. One run each is no comparison.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import astuple
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.comparison.courses import mean_course
from gearfit.comparison.permutation import permutation_p
from gearfit.comparison.run_means import (
    RunMean,
    corrected_difference,
    difference,
    freedom,
    heading_of,
    run_mean,
    two_ways,
)
from gearfit.comparison.runs_needed import POWER, for_measured, for_predicted
from gearfit.fitting.ratios.quantiles import estimate, t_quantile
from gearfit.records.results import Estimate, How, SpanComparison, SpanSummary, TimedSpan
from gearfit.timed.asked import Span, each_once

FloatArray = NDArray[np.float64]

#: Standard error of one hand-timed run, start and stop by the same person, s:
#: American Journal of Physics 87(2), 110 (2019).
HAND_TIMING_SD_S: Final = 0.10
#: Scatter assumed between runs while no setup has two of them, share of the time (our assumption, no source).
ASSUMED_RUN_RELATIVE_SD: Final = 0.03

#: What the change of gearing alone predicts for runs like a given one: other less reference, s; None unknown.
Predicted = Callable[[TimedSpan], "Estimate | None"]


def single_runs(runs: pd.DataFrame) -> tuple[TimedSpan, ...]:
    """Turn a table of hand-timed runs (`gearfit.records.schema.RUN_DTYPES`) into records."""
    return tuple(
        TimedSpan(
            source=str(source),
            from_mps=float(low),
            to_mps=float(high),
            start_s=None,
            time_s=estimate(float(time_s), HAND_TIMING_SD_S, np.inf),
        )
        for source, low, high, time_s in zip(
            runs["file"], runs["from_mps"].to_numpy(), runs["to_mps"].to_numpy(), runs["time_s"].to_numpy(), strict=True
        )
    )


def compare_spans(
    reference: Sequence[TimedSpan], other: Sequence[TimedSpan], predicted: Predicted | None = None
) -> tuple[SpanComparison, ...]:
    """Compare the runs over each span that both setups have.

    Runs found in a ride are compared with runs found in a ride that were ridden alike (standing start; roll-on in the
    same gear; through the gears from the same one), hand-timed runs with hand-timed ones; each with the other only
    where nothing better is there.

    Parameters
    ----------
    reference, other : sequence of TimedSpan
        Runs of the two setups.
    predicted : callable, optional
        What the change of gearing alone predicts for runs like the one given.
    """
    compared = []
    for span in sorted(each_once(map(_span, reference)), key=astuple):
        before, after = _over(reference, span), _over(other, span)
        for kind, how, gears, first, second in _alike(before, after):
            expected = None if predicted is None else predicted(first[0])
            compared.append(_compare(span, first, second, kind, how, gears, expected))
    return tuple(compared)


def _span(run: TimedSpan) -> Span:
    return Span(run.from_mps, run.to_mps)


def _over(runs: Sequence[TimedSpan], span: Span) -> list[TimedSpan]:
    return [run for run in runs if _span(run).same_as(span)]


_Alike = tuple[str, How, tuple[int, ...], list[TimedSpan], list[TimedSpan]]


def _ridden(run: TimedSpan) -> tuple[How, tuple[int, ...]]:
    return run.how, run.gears_alike


def _alike(before: list[TimedSpan], after: list[TimedSpan]) -> list[_Alike]:
    """Return the groups of runs that may be compared: kind, how, gear, runs of both setups."""
    groups: list[_Alike] = []
    for way in sorted({_ridden(run) for run in before if run.kind == "ride"}):
        sides = [[run for run in runs if run.kind == "ride" and _ridden(run) == way] for runs in (before, after)]
        if sides[1]:
            groups.append(("ride", *way, sides[0], sides[1]))
    hands = [[run for run in runs if run.kind == "stopwatch"] for runs in (before, after)]
    if hands[0] and hands[1]:
        groups.append(("stopwatch", "", (), hands[0], hands[1]))
    if not groups and before and after and (before[0].from_mps == 0 or not _several_gears(before + after)):
        groups.append(("ride and stopwatch", "", (), before, after))
    return groups


def _several_gears(runs: list[TimedSpan]) -> bool:
    return len({_ridden(run) for run in runs if run.kind == "ride"}) > 1


def _compare(
    span: Span,
    before: list[TimedSpan],
    after: list[TimedSpan],
    kind: str,
    how: How,
    gears: tuple[int, ...],
    expected: Estimate | None,
) -> SpanComparison:
    first, second = _mean(before), _mean(after)
    gap = difference(first, second)
    scatter = _scatter(first, second)
    there_deg = heading_of([*before, *after])
    sizes = len(before), len(after)
    measured = for_measured(second.mean_s - first.mean_s, scatter, *sizes)
    foretold = None if expected is None else for_predicted(expected, scatter, *sizes)
    return SpanComparison(
        from_mps=span.from_mps,
        to_mps=span.to_mps,
        reference=_summary(before, first, there_deg),
        other=_summary(after, second, there_deg),
        difference_s=gap,
        predicted_difference_s=expected,
        runs_needed_per_setup=measured.runs,
        runs_needed_lo95=measured.lo95,
        runs_needed_hi95=measured.hi95,
        kind=kind,
        how=how,
        gears=gears,
        permutation_p=None if gap is None else permutation_p(first.times_s, second.times_s),
        least_shown_s=_least_assumed(scatter, first, second) if gap is None else least_shown(gap, first, second),
        runs_for_prediction=foretold and foretold.runs,
        runs_for_prediction_lo95=foretold and foretold.lo95,
        runs_for_prediction_hi95=foretold and foretold.hi95,
        corrected_difference_s=corrected_difference(before, after),
    )


def _mean(runs: list[TimedSpan]) -> RunMean:
    return run_mean(np.array([r.time_s.value for r in runs]), np.array([r.time_s.se for r in runs]))


def _summary(runs: list[TimedSpan], mean: RunMean, there_deg: float | None) -> SpanSummary:
    there, back, two_way_s, gap = two_ways(runs, there_deg)
    return SpanSummary(
        n=len(runs),
        mean_s=mean.mean_s,
        sd_s=mean.sd_s,
        own_se_s=float(np.sqrt(np.mean(mean.own_se_s**2))),
        there=there,
        back=back,
        two_way_mean_s=two_way_s,
        direction_gap_s=gap,
        course=mean_course(runs),
    )


def welch(before: FloatArray, after: FloatArray) -> Estimate | None:
    """Return the difference of means, after less before, with Welch's 95 % interval; None below two runs each.

    Runs that are all alike to the last digit have no scatter to judge by; theirs is that of hand timing.
    """
    if before.size < 2 or after.size < 2:
        return None
    means = [
        run_mean(times, np.full(times.size, 0.0 if np.var(times) > 0 else HAND_TIMING_SD_S))
        for times in (before, after)
    ]
    return difference(means[0], means[1])


def least_shown(gap: Estimate, before: RunMean, after: RunMean) -> float:
    """Smallest true difference that runs like these show with power 80 % at 95 %: half the interval and t_0.8 se."""
    return 0.5 * (gap.hi95 - gap.lo95) + t_quantile(POWER, freedom(before, after)) * gap.se


def _least_assumed(scatter_s: float, before: RunMean, after: RunMean) -> float:
    """Return the same where a setup has a single run, by the other's scatter (assumed where that has one too)."""
    n, m = before.times_s.size, after.times_s.size
    dof = n + m - 2 or np.inf
    return (t_quantile(0.975, dof) + t_quantile(POWER, dof)) * scatter_s * float(np.sqrt(1 / n + 1 / m))


def _scatter(before: RunMean, after: RunMean) -> float:
    """Pooled standard deviation of a run (assumed where no setup has two), at least the runs' own standard error."""
    dof = before.times_s.size + after.times_s.size - 2
    squares = sum(mean.times_s.size * float(np.var(mean.times_s)) for mean in (before, after))
    found = (squares / dof) ** 0.5 if dof else ASSUMED_RUN_RELATIVE_SD * before.mean_s
    own = float(np.sqrt(np.mean(np.concatenate([before.own_se_s, after.own_se_s]) ** 2)))
    return max(found, own)
