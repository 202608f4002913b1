"""How many runs settle a doubt: against a general library, and against runs simulated with a known truth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.power import TTestIndPower

from gearfit.comparison.runs_needed import FEWEST_RUNS, for_measured, for_predicted, runs_needed
from gearfit.fitting.ratios.quantiles import estimate
from gearfit.records.words import runs_interval, runs_words


def by_library(share: float) -> float:
    """Runs in each setup that a t test needs for a difference of `share` scatters (statsmodels), at least four."""
    found = TTestIndPower().solve_power(effect_size=share, alpha=0.05, power=0.8, ratio=1.0, alternative="two-sided")
    return max(float(np.squeeze(found)), FEWEST_RUNS)


@pytest.mark.parametrize("share", [0.2, 0.3, 0.5, 0.8, 1.0, 1.5, 2.5])
def test_the_count_is_that_of_a_general_library(share: float) -> None:
    n = runs_needed(share * 0.2, 0.2)
    assert n is not None
    assert abs(n - np.ceil(by_library(share))) <= 1


# Four or six runs a setup, simulated; the truth is what the library says for the true difference and scatter. The
# intervals are two-sided, so they hold it in 95 % of cases: 2000 cases have a standard error of 0.5 %. Counts are whole
# numbers and stop at four, which only helps.
@pytest.mark.parametrize("runs", [4, 6])
@pytest.mark.parametrize("share", [0.25, 0.7, 1.6])
def test_the_interval_holds_the_true_number_of_runs(runs: int, share: float) -> None:
    rng = np.random.default_rng([3, runs, round(100 * share)])
    truth, held, alone = by_library(share), 0, 0
    cases = 600
    for _ in range(cases):
        before, after = rng.normal(6.0, 0.2, runs), rng.normal(6.0 - 0.2 * share, 0.2, runs)
        pooled = float(np.sqrt((np.var(before, ddof=1) + np.var(after, ddof=1)) / 2))
        found = for_measured(float(after.mean() - before.mean()), pooled, runs, runs)
        held += (found.lo95 or np.inf) - 1 <= truth <= (found.hi95 or np.inf)
        alone += found.runs is not None and abs(found.runs / truth - 1) < 0.3
    assert held / cases > 0.93
    if share < 1.6:
        assert alone / cases < 0.5  # what was printed before: one number, wrong by a third in most cases


def test_the_interval_of_a_standardised_difference_is_that_of_the_noncentral_t() -> None:
    """Found by halving on the distribution of scipy.stats, apart from its inverse: t = 1.5, 8 degrees of freedom."""
    ends = []
    for share in (0.975, 0.025):
        low, high = -20.0, 20.0
        for _ in range(80):
            middle = (low + high) / 2
            low, high = (middle, high) if stats.nct.cdf(1.5, 8, middle) > share else (low, middle)
        ends.append(low)
    spread = np.sqrt(2 / 5)
    found = for_measured(1.5 * spread * 0.1, 0.1, 5, 5)
    assert found.lo95 == runs_needed(ends[1] * spread, 1.0)
    assert (found.hi95 is None) == (ends[0] <= 0)


def test_a_prediction_is_uncertain_by_its_own_interval_and_by_the_scatter() -> None:
    """Six degrees of freedom: chi-square 1.237 and 14.449, so the scatter is 0.644 to 2.202 times the one seen."""
    sure = for_predicted(estimate(-0.1, 1e-9, np.inf), 0.1, 4, 4)
    assert sure.lo95 == runs_needed(0.1, 0.1 * (6 / 14.449) ** 0.5)
    assert sure.hi95 == runs_needed(0.1, 0.1 * (6 / 1.237) ** 0.5)
    assert sure.lo95 is not None
    assert sure.runs is not None
    assert sure.hi95 is not None
    assert sure.lo95 < sure.runs < sure.hi95
    assert for_predicted(estimate(-0.1, 0.06, np.inf), 0.1, 4, 4).hi95 is None
    assert for_predicted(estimate(0.0, 0.06, np.inf), 0.1, 4, 4).runs is None


def test_a_certain_difference_needs_the_fewest_runs_whatever_the_scatter() -> None:
    assert for_measured(5.0, 0.01, 4, 4) == (4, 4, 4)
    assert for_measured(0.0, 0.2, 4, 4).hi95 is None
    assert for_measured(0.5, 0.2, 1, 1).hi95 is None


@pytest.mark.parametrize(
    ("needed", "said", "below"),
    [
        ((12, 5, None), "about 12 runs (5 to over 30)", "5 to over 30"),
        ((8, 4, 21), "about 8 runs (4 to 21)", "4 to 21"),
        ((4, 4, 4), "about 4 runs", "4"),
        ((178, 9, None), "more runs than anyone would ride (over 30; at best 9)", "9 to over 30"),
        ((None, 61, None), "more runs than anyone would ride (over 30)", ""),
        ((None, None, None), "more runs than anyone would ride (over 30)", ""),
    ],
)
def test_no_number_is_named_that_nobody_would_ride(
    needed: tuple[int | None, int | None, int | None], said: str, below: str
) -> None:
    assert runs_words(*needed) == said
    assert runs_interval(*needed[1:]) == below
