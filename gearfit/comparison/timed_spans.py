"""Hand-timed runs, one setup against the other: the scatter decides, not the arithmetic.

Difference of means by Welch (B. L. Welch, Biometrika 34, 28, 1947). One run each is no comparison.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.fitting.quantiles import estimate, t_quantile
from gearfit.results import Estimate, SpanComparison, SpanSummary, TimedSpan

#: Standard error of one hand-timed run, start and stop by the same person, s:
#: American Journal of Physics 87(2), 110 (2019).
HAND_TIMING_SD_S: Final = 0.10
#: Scatter assumed between runs while no setup has two of them, share of the time (our assumption, no source).
ASSUMED_RUN_RELATIVE_SD: Final = 0.03
#: Speeds that differ by less than this are one, m/s.
_SAME_MPS: Final = 0.05
_POWER: Final = 0.8
_MOST_RUNS: Final = 999


def single_runs(runs: pd.DataFrame) -> tuple[TimedSpan, ...]:
    """Turn a table of hand-timed runs (`gearfit.schema.RUN_DTYPES`) into records."""
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


def compare_spans(reference: Sequence[TimedSpan], other: Sequence[TimedSpan]) -> tuple[SpanComparison, ...]:
    """Compare the runs over each span that both setups have."""
    compared = []
    for low, high in _spans(reference):
        before, after = _times(reference, low, high), _times(other, low, high)
        if after.size:
            compared.append(_compare(low, high, before, after))
    return tuple(compared)


def _spans(runs: Sequence[TimedSpan]) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for run in runs:
        if not any(abs(run.from_mps - a) < _SAME_MPS and abs(run.to_mps - b) < _SAME_MPS for a, b in found):
            found.append((run.from_mps, run.to_mps))
    return sorted(found)


def _times(runs: Sequence[TimedSpan], low: float, high: float) -> NDArray[np.float64]:
    return np.array(
        [r.time_s.value for r in runs if abs(r.from_mps - low) < _SAME_MPS and abs(r.to_mps - high) < _SAME_MPS]
    )


def _compare(low: float, high: float, before: NDArray[np.float64], after: NDArray[np.float64]) -> SpanComparison:
    difference = welch(before, after)
    gap = float(np.mean(after) - np.mean(before))
    return SpanComparison(
        from_mps=low,
        to_mps=high,
        reference=_summary(before),
        other=_summary(after),
        difference_s=difference,
        predicted_difference_s=None,
        runs_needed_per_setup=runs_needed(gap, _scatter(before, after)),
    )


def _summary(times: NDArray[np.float64]) -> SpanSummary:
    return SpanSummary(times.size, float(np.mean(times)), float(np.std(times, ddof=1)) if times.size > 1 else None)


def welch(before: NDArray[np.float64], after: NDArray[np.float64]) -> Estimate | None:
    """Return the difference of means, after less before, with Welch's 95 % interval; None below two runs each.

    Runs that are all alike to the last digit have no scatter to judge by; theirs is that of hand timing.
    """
    if before.size < 2 or after.size < 2:
        return None
    parts = np.array([_variance(times) / times.size for times in (before, after)])
    dof = float(parts.sum() ** 2 / np.sum(parts**2 / np.array([before.size - 1, after.size - 1])))
    return estimate(float(np.mean(after) - np.mean(before)), float(np.sqrt(parts.sum())), dof)


def _variance(times: NDArray[np.float64]) -> float:
    found = float(np.var(times, ddof=1))
    return found if found > 0 else HAND_TIMING_SD_S**2


def _scatter(before: NDArray[np.float64], after: NDArray[np.float64]) -> float:
    """Return the pooled standard deviation of a run (assumed where no setup has two), at least that of hand timing."""
    dof = before.size + after.size - 2
    squares = before.size * float(np.var(before)) + after.size * float(np.var(after))
    found = np.sqrt(squares / dof) if dof else ASSUMED_RUN_RELATIVE_SD * float(np.mean(before))
    return max(float(found), HAND_TIMING_SD_S)


def runs_needed(gap_s: float, run_sd_s: float) -> int | None:
    """Count the runs in each setup that show a difference of `gap_s` with power 80 % at 95 %; None above 999.

    n = 2 (t_0.975 + t_0.8)^2 (sd/gap)^2 with 2n - 2 degrees of freedom, solved by counting up.
    """
    if gap_s == 0:
        return None
    for n in range(2, _MOST_RUNS + 1):
        dof = 2 * n - 2
        if n >= 2 * (t_quantile(0.975, dof) + t_quantile(_POWER, dof)) ** 2 * (run_sd_s / gap_s) ** 2:
            return n
    return None
