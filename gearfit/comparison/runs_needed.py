"""How many runs show a difference, and how little a few runs know about that.

The count rests on the difference over the scatter of a run, and after four runs in each setup both are known poorly:
the scatter within a factor of 0.6 to 2.2 (chi-square with 6 degrees of freedom), the difference often not even by its
sign. So a count has a 95 % interval, as everything has.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from scipy.special import chdtri, nctdtrinc

from gearfit.fitting.ratios.quantiles import t_quantile
from gearfit.records.results import Estimate

POWER: Final = 0.8
#: Runs in each setup: fewest that the permutation test can tell from chance, and most that are counted.
FEWEST_RUNS: Final = 4
MOST_RUNS: Final = 999
#: Degrees of freedom of a scatter that is assumed and not seen: known no better than from five runs (our assumption).
ASSUMED_DOF: Final = 4
#: Beyond this many standard errors the noncentral t is left for the normal law and the interval of the scatter.
_CERTAIN_T: Final = 30.0


class Needed(NamedTuple):
    """Runs in each setup with the 95 % interval; None above `MOST_RUNS`."""

    runs: int | None
    lo95: int | None
    hi95: int | None


def runs_needed(gap_s: float, run_sd_s: float) -> int | None:
    """Count the runs in each setup that show a difference of `gap_s` with power 80 % at 95 %; None above 999.

    n = 2 (t_0.975 + t_0.8)^2 (sd/gap)^2 with 2n - 2 degrees of freedom, solved by counting up from four: dealt out to
    the setups at random, two runs each differ at least as much in 2 of 6 ways or more, three in 2 of 20, four in 2 of
    70. Fewer than four cannot be told from chance without trusting Gauss's law.
    """
    if gap_s == 0:
        return None
    for n in range(FEWEST_RUNS, MOST_RUNS + 1):
        dof = 2 * n - 2
        if n >= 2 * (t_quantile(0.975, dof) + t_quantile(POWER, dof)) ** 2 * (run_sd_s / gap_s) ** 2:
            return n
    return None


def for_measured(gap_s: float, run_sd_s: float, n: int, m: int) -> Needed:
    """Count the runs for the difference of the means of `n` and `m` runs.

    Its t value follows the noncentral t distribution, whose noncentrality is the true difference over the true scatter,
    times (1/n + 1/m)^-0.5: the noncentralities for which this t lies at 2.5 and 97.5 % bound both uncertainties at once
    (the usual interval of a standardised difference; textbook form).
    """
    dof, spread = _dof(n + m - 2), math.sqrt(1 / n + 1 / m)
    t = abs(gap_s) / (run_sd_s * spread)
    if t < _CERTAIN_T:
        low, high = (float(nctdtrinc(dof, share, t)) for share in (0.975, 0.025))
    else:
        shrink, stretch = _scatter_between(dof)
        low, high = (t - 1.96) / stretch, (t + 1.96) / shrink
    bounds = (max(abs(low), high) * spread, low * spread)
    return Needed(
        runs_needed(gap_s, run_sd_s), runs_needed(bounds[0], 1.0), runs_needed(bounds[1], 1.0) if low > 0 else None
    )


def for_predicted(expected: Estimate, run_sd_s: float, n: int, m: int) -> Needed:
    """Count the runs for a predicted difference, whose interval and that of the scatter are independent factors."""
    shrink, stretch = _scatter_between(_dof(n + m - 2))
    size = abs(expected.value)
    least, most = sorted((abs(expected.lo95), abs(expected.hi95)))
    if size == 0:
        return Needed(None, runs_needed(most, run_sd_s * shrink), None)
    larger = math.exp(math.hypot(math.log(most / size), math.log(shrink)))
    lowest = runs_needed(size * larger, run_sd_s)
    if expected.contains(0.0):
        return Needed(runs_needed(size, run_sd_s), lowest, None)
    smaller = math.exp(-math.hypot(math.log(least / size), math.log(stretch)))
    return Needed(runs_needed(size, run_sd_s), lowest, runs_needed(size * smaller, run_sd_s))


def _dof(dof: int) -> int:
    return dof or ASSUMED_DOF


def _scatter_between(dof: int) -> tuple[float, float]:
    """Factors of the 95 % interval of a standard deviation: (dof / chi-square)^0.5."""
    return math.sqrt(dof / float(chdtri(dof, 0.025))), math.sqrt(dof / float(chdtri(dof, 0.975)))
