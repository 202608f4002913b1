"""The mean of runs, each with its own error, and what the two directions of a road show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.quantiles import t_quantile
from gearfit.records.results import Estimate, TimedSpan

FloatArray = NDArray[np.float64]

#: So that a run whose weight is all of it divides nothing by 0.
_TINY: Final = 1e-12


@dataclass(frozen=True, eq=False)
class RunMean:
    """Mean of runs; `se_s` and `sd_s` are None for a single one.

    Attributes
    ----------
    times_s, own_se_s : (n,) float
        Times and their own standard errors.
    mean_s : float
        Weighted mean.
    se_s : float or None
        Its standard error as the scatter of the times shows it.
    least_se_s : float
        What the runs' own errors alone make of it.
    sd_s : float or None
        Scatter of the times.
    dof : float
        Degrees of freedom of `se_s`: the effective number of runs, (sum w)^2 / sum w^2, less one (at least one).
    """

    times_s: FloatArray
    own_se_s: FloatArray
    mean_s: float
    se_s: float | None
    least_se_s: float
    sd_s: float | None
    dof: float


def run_mean(times_s: FloatArray, own_se_s: FloatArray) -> RunMean:
    """Find the mean of runs that differ from each other, each measured with its own error.

    Notes
    -----
    Weights 1 / (tau^2 + se_i^2), tau^2 = max(0, s^2 - mean of se_i^2) the scatter between runs beyond their own errors
    (s their standard deviation), scaled to sum 1; the variance of the mean is

        sum w_i^2 (t_i - mean)^2 / (1 - w_i) ,

    the second of the estimators for unequal variances of J. G. MacKinnon and H. White, Journal of Econometrics 29, 305
    (1985; from memory). It holds whether the runs scatter as their weights say or all alike: that of G. Knapp and
    J. Hartung (2003), which believes the weights, is too small where stated errors differ for reasons that have little
    to do with the true ones. With equal errors it is s^2 / n. That of the runs' own errors alone, sum w_i^2 se_i^2,
    stands beside it.
    """
    if times_s.size < 2:
        return RunMean(times_s, own_se_s, float(times_s[0]), None, float(own_se_s[0]), None, 0.0)
    sd = float(np.std(times_s, ddof=1))
    own = own_se_s**2
    between = max(0.0, sd**2 - float(np.mean(own)))
    weight = np.ones(times_s.size) if between + float(np.min(own)) == 0 else 1 / (between + own)
    weight = weight / weight.sum()
    mean = float(weight @ times_s)
    shown = float(np.sum(weight**2 * (times_s - mean) ** 2 / np.maximum(1 - weight, _TINY)))
    least = float(weight**2 @ own)
    return RunMean(times_s, own_se_s, mean, shown**0.5, least**0.5, sd, max(1 / float(weight @ weight) - 1, 1.0))


def difference(before: RunMean, after: RunMean) -> Estimate | None:
    """Difference of two means, after less before, with a 95 % interval; None below two runs each.

    The interval is Welch's (B. L. Welch, Biometrika 34, 28, 1947), but never narrower than the runs' own errors alone
    make it, by the normal law: three runs that agree by luck are no better than the watch they were timed with.
    """
    if before.se_s is None or after.se_s is None:
        return None
    se = float(np.hypot(before.se_s, after.se_s))
    least = float(np.hypot(before.least_se_s, after.least_se_s))
    half = max(t_quantile(0.975, freedom(before, after)) * se, t_quantile(0.975, np.inf) * least)
    value = after.mean_s - before.mean_s
    return Estimate(value, max(se, least), value - half, value + half)


def corrected_difference(before: Sequence[TimedSpan], after: Sequence[TimedSpan]) -> Estimate | None:
    """Difference of the means of the corrected times as `difference` has it; None unless every run has one."""
    sides = [[run.corrected_time_s for run in runs if run.corrected_time_s is not None] for runs in (before, after)]
    if [len(side) for side in sides] != [len(before), len(after)]:
        return None
    first, second = (run_mean(np.array([t.value for t in side]), np.array([t.se for t in side])) for side in sides)
    return difference(first, second)


def freedom(before: RunMean, after: RunMean) -> float:
    """Degrees of freedom of a difference by Welch and Satterthwaite."""
    parts = np.array([(mean.se_s or 0.0) ** 2 for mean in (before, after)])
    if parts.sum() == 0:
        return before.dof + after.dof
    return float(parts.sum() ** 2 / np.sum(parts**2 / np.array([before.dof, after.dof])))


def heading_of(runs: Sequence[TimedSpan]) -> float | None:
    """Return the first known heading of some runs, degrees; None where no run has one."""
    return next((run.heading_deg for run in runs if run.heading_deg is not None), None)


def two_ways(
    runs: Sequence[TimedSpan], there_deg: float | None = None
) -> tuple[int, int, float | None, Estimate | None]:
    """Sort runs by direction: counts there and back, two-way mean time, mean time there less back.

    Runs within 90 degrees of `there_deg`, by default the first run's heading, went there; setups are told apart only by
    one heading for both. The two-way mean is the harmonic one, 2 / (1/there + 1/back): it averages speeds (UN GTR 15,
    draft of 2013, Annex 4, 4.3.1.4.2).
    """
    known = [(run.heading_deg, run.time_s) for run in runs if run.heading_deg is not None]
    if not known:
        return 0, 0, None, None
    headings = np.radians([heading for heading, _ in known])
    there = np.cos(headings - (headings[0] if there_deg is None else np.radians(there_deg))) > 0
    if there.all() or not there.any():
        return int(there.sum()), int((~there).sum()), None, None
    times = np.array([time.value for _, time in known])
    errors = np.array([time.se for _, time in known])
    first, second = (run_mean(times[way], errors[way]) for way in (there, ~there))
    gap = None
    if first.se_s is not None and second.se_s is not None:
        gap = difference(second, first)
    two_way = 2 / (1 / first.mean_s + 1 / second.mean_s)
    return int(there.sum()), int((~there).sum()), two_way, gap
