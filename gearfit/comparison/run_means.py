"""The mean of runs, each with its own error, and what the two directions of a road show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.quantiles import estimate
from gearfit.results import Estimate, TimedSpan

FloatArray = NDArray[np.float64]


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
        Its standard error.
    sd_s : float or None
        Scatter of the times.
    """

    times_s: FloatArray
    own_se_s: FloatArray
    mean_s: float
    se_s: float | None
    sd_s: float | None


def run_mean(times_s: FloatArray, own_se_s: FloatArray) -> RunMean:
    """Find the mean of runs that differ from each other, each measured with its own error.

    Notes
    -----
    Weights 1 / (tau^2 + se_i^2), tau^2 = max(0, s^2 - mean of se_i^2) the scatter between runs beyond their own errors
    (s their standard deviation); the variance of the mean is

        sum w_i (t_i - mean)^2 / ((n - 1) sum w_i) ,

    that of G. Knapp and J. Hartung, Statistics in Medicine 22, 2693 (2003; from memory), but at least what the runs'
    own errors alone make of it. With equal errors this is s^2 / n.
    """
    if times_s.size < 2:
        return RunMean(times_s, own_se_s, float(times_s[0]), None, None)
    sd = float(np.std(times_s, ddof=1))
    own = own_se_s**2
    between = max(0.0, sd**2 - float(np.mean(own)))
    weight = np.ones(times_s.size) if between + float(np.min(own)) == 0 else 1 / (between + own)
    weight = weight / weight.sum()
    mean = float(weight @ times_s)
    shown = float(weight @ (times_s - mean) ** 2) / (times_s.size - 1)
    least = float(weight**2 @ own)
    return RunMean(times_s, own_se_s, mean, max(shown, least) ** 0.5, sd)


def two_ways(runs: Sequence[TimedSpan]) -> tuple[int, int, float | None, Estimate | None]:
    """Sort runs by direction: counts there and back, two-way mean time, mean time there less back.

    Runs within 90 degrees of the first one's heading went there. The two-way mean is the harmonic one, 2 / (1/there +
    1/back): it averages speeds (UN GTR 15, draft of 2013, Annex 4, 4.3.1.4.2).
    """
    known = [(run.heading_deg, run.time_s) for run in runs if run.heading_deg is not None]
    if not known:
        return 0, 0, None, None
    headings = np.radians([heading for heading, _ in known])
    there = np.cos(headings - headings[0]) > 0
    if there.all():
        return int(there.sum()), 0, None, None
    times = np.array([time.value for _, time in known])
    errors = np.array([time.se for _, time in known])
    first, second = (run_mean(times[way], errors[way]) for way in (there, ~there))
    gap = None
    if first.se_s is not None and second.se_s is not None:
        parts = np.array([first.se_s**2, second.se_s**2])
        dof = float(parts.sum() ** 2 / np.sum(parts**2 / np.array([there.sum() - 1, (~there).sum() - 1])))
        gap = estimate(first.mean_s - second.mean_s, float(parts.sum() ** 0.5), dof)
    two_way = 2 / (1 / first.mean_s + 1 / second.mean_s)
    return int(there.sum()), int((~there).sum()), two_way, gap
