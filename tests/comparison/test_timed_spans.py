"""Hand-timed runs: Welch's interval against published values and scipy.stats."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from gearfit.comparison.permutation import permutation_p
from gearfit.comparison.runs_needed import runs_needed
from gearfit.comparison.timed_spans import HAND_TIMING_SD_S, compare_spans, single_runs, welch
from gearfit.records.results import Estimate
from gearfit.records.schema import run_table

FloatArray = NDArray[np.float64]


def found(before: FloatArray, after: FloatArray) -> Estimate:
    difference = welch(before, after)
    assert difference is not None
    return difference


def dof_of(difference: Estimate) -> float:
    """Degrees of freedom that the interval was made with."""
    from scipy.optimize import brentq

    half = (difference.hi95 - difference.lo95) / 2
    return float(brentq(lambda dof: stats.t.ppf(0.975, dof) - half / difference.se, 1.01, 1e5, xtol=1e-10))


def two_sided_p(t: float, dof: float) -> float:
    """Probability of a |t| at least as large by chance."""
    return float(2 * stats.t.sf(abs(t), dof))


ROSETTA_1 = np.array([27.5, 21, 19, 23.6, 17, 17.9, 16.9, 20.1, 21.9, 22.6, 23.1, 19.6, 19, 21.7, 21.4])
ROSETTA_2 = np.array([27.1, 22, 20.8, 23.4, 23.4, 23.5, 25.8, 22, 24.8, 20.2, 21.9, 22.1, 22.9, 20.5, 24.4])


def test_rosetta_code() -> None:
    """Rosetta Code, "Welch's t-test": t, degrees of freedom, p and interval (first less second).

    The interval is printed to eight decimals, of which scipy's differs by 2 in the last.
    """
    difference = found(ROSETTA_2, ROSETTA_1)
    t = difference.value / difference.se
    assert t == pytest.approx(-2.455356398286, abs=1e-12)
    assert dof_of(difference) == pytest.approx(24.98852929023, rel=1e-7)
    assert two_sided_p(t, 24.98852929023) == pytest.approx(0.021378001462867, abs=1e-13)
    assert (difference.lo95, difference.hi95) == pytest.approx((-3.98409625, -0.34923708), abs=2e-8)


def test_rosetta_code_small_sets() -> None:
    a = np.array([30.02, 29.99, 30.11, 29.97, 30.01, 29.99])
    b = np.array([29.89, 29.93, 29.72, 29.98, 30.02, 29.98])
    difference = found(b, a)
    p = two_sided_p(difference.value / difference.se, dof_of(difference))
    assert p == pytest.approx(0.090773324285671, abs=1e-9)


def with_moments(n: int, mean: float, sd: float) -> FloatArray:
    values = np.linspace(-1, 1, n)
    return mean + sd * values / np.std(values, ddof=1)


def test_nist_auto83b() -> None:
    """NIST/SEMATECH e-Handbook 1.3.5.3, AUTO83B: from its printed n, mean and sd; unequal variances."""
    difference = found(with_moments(79, 30.48101, 6.10771), with_moments(249, 20.14458, 6.41470))
    assert difference.value / difference.se == pytest.approx(-12.94627, abs=5e-5)
    assert dof_of(difference) == pytest.approx(136.875, abs=5e-3)


times = st.lists(st.floats(3, 15).map(lambda s: round(s, 2)), min_size=2, max_size=12)


@given(times, times)
def test_against_scipy(before: list[float], after: list[float]) -> None:
    a, b = np.array(before), np.array(after)
    if np.var(a) < 1e-12 or np.var(b) < 1e-12:
        return
    wanted = stats.ttest_ind(b, a, equal_var=False).confidence_interval(0.95)
    difference = found(a, b)
    assert difference.value == pytest.approx(b.mean() - a.mean(), abs=1e-12)
    assert (difference.lo95, difference.hi95) == pytest.approx((wanted.low, wanted.high), rel=1e-8, abs=1e-8)


def test_runs_all_alike_have_the_scatter_of_hand_timing() -> None:
    difference = found(np.array([6.0, 6.0]), np.array([5.5, 5.5]))
    assert difference.se == pytest.approx(HAND_TIMING_SD_S)
    assert difference.value == pytest.approx(-0.5)


def test_one_run_is_no_comparison() -> None:
    assert welch(np.array([6.0]), np.array([5.5, 5.6])) is None
    assert welch(np.array([6.0, 6.1]), np.array([5.5])) is None


def power(n: int, gap_s: float, sd_s: float) -> float:
    """Power of a two-sided t test with n runs in each setup, by the noncentral t of scipy.stats."""
    dof, shift = 2 * n - 2, gap_s / sd_s * np.sqrt(n / 2)
    limit = stats.t.ppf(0.975, dof)
    return float(stats.nct.sf(limit, dof, shift) + stats.nct.cdf(-limit, dof, shift))


@pytest.mark.parametrize("share", [0.2, 0.3, 0.5, 0.8, 1.0, 1.5, 2.0, 3.0])
def test_runs_needed_against_the_noncentral_t(share: float) -> None:
    """The formula is an approximation: it may ask for one run more or less than the exact count."""
    n = runs_needed(share * 0.2, 0.2)
    assert n is not None
    exact = next(k for k in range(4, 1000) if power(k, share * 0.2, 0.2) >= 0.8)
    assert abs(n - exact) <= 1
    assert power(n, share * 0.2, 0.2) > 0.75


def test_runs_needed_at_its_ends() -> None:
    assert runs_needed(0.0, 0.2) is None
    assert runs_needed(0.001, 0.2) is None
    assert runs_needed(5.0, 0.1) == 4
    assert runs_needed(-0.2, 0.2) == runs_needed(0.2, 0.2)


@pytest.mark.parametrize("n", [2, 3, 4])
def test_the_fewest_runs_are_those_that_a_permutation_test_can_tell_from_chance(n: int) -> None:
    """The best that n runs each can show: all of one setup quicker than all of the other."""
    times = np.linspace(5.0, 5.1, n)
    p = permutation_p(times, times + 1.0)
    assert p is not None
    assert (p < 0.05) == (n >= 4)
    assert runs_needed(1.0, 0.01) == 4


@pytest.mark.parametrize(("n", "m"), [(1, 1), (1, 4), (3, 1)])
def test_a_single_run_could_have_shown_what_the_scatter_of_the_other_setup_allows(n: int, m: int) -> None:
    """Against scipy.stats; with one run each 3 % of 6 s, known."""
    first, second = np.linspace(5.7, 6.3, n) if n > 1 else np.array([6.0]), np.linspace(5.0, 5.9, m)
    tables = [
        single_runs(run_table("r", t.size, from_mps=[0.0] * t.size, to_mps=[20.0] * t.size, time_s=list(t)))
        for t in (first, second)
    ]
    (span,) = compare_spans(tables[0], tables[1])
    dof = n + m - 2
    scatter = np.sqrt((n * np.var(first) + m * np.var(second)) / dof) if dof else 0.18
    t = stats.t if dof else stats.norm
    ends = [t.ppf(q, dof) if dof else t.ppf(q) for q in (0.975, 0.8)]
    assert span.difference_s is None
    assert span.least_shown_s == pytest.approx(sum(ends) * scatter * np.sqrt(1 / n + 1 / m))


def test_spans_are_compared_with_their_like() -> None:
    before = single_runs(run_table("b", 4, from_mps=[0, 0, 0, 10], to_mps=[20, 20, 20, 25], time_s=[5.0, 5.2, 5.1, 4]))
    after = single_runs(run_table("a", 4, from_mps=[0, 0, 10, 0], to_mps=[20.02, 20, 25, 30], time_s=[4.5, 4.6, 4, 8]))
    first, second = compare_spans(before, after)
    assert (first.from_mps, first.to_mps, first.reference.n, first.other.n) == (0, 20, 3, 2)
    assert first.reference.mean_s == pytest.approx(5.1)
    assert first.reference.sd_s == pytest.approx(0.1)
    assert first.difference_s is not None
    assert first.difference_s.value == pytest.approx(-0.55)
    assert (second.from_mps, second.to_mps) == (10, 25)
    assert (second.difference_s, second.reference.sd_s, second.runs_needed_per_setup) == (None, None, None)


def test_one_run_each_says_how_many_would_do() -> None:
    before = single_runs(run_table("b", 1, from_mps=[0.0], to_mps=[20.0], time_s=[6.0]))
    after = single_runs(run_table("a", 1, from_mps=[0.0], to_mps=[20.0], time_s=[5.5]))
    (span,) = compare_spans(before, after)
    assert span.difference_s is None
    wanted = runs_needed(0.5, 0.18)  # runs that scatter by 3 % of 6 s
    assert span.runs_needed_per_setup == wanted


def test_a_single_run_carries_the_error_of_hand_timing() -> None:
    """American Journal of Physics 87(2), 110 (2019): start and stop by one person, 0.10 s."""
    (run,) = single_runs(run_table("t.csv", 1, from_mps=[0.0], to_mps=[27.8], time_s=[6.2]))
    assert (run.source, run.start_s, run.time_s.value, run.time_s.se) == ("t.csv", None, 6.2, 0.1)
    assert (run.time_s.lo95, run.time_s.hi95) == pytest.approx((6.2 - 0.196, 6.2 + 0.196), abs=1e-4)


def test_welch_covers() -> None:
    """Of 2000 invented days with three runs and five, 95 % of the intervals hold the true difference."""
    rng = np.random.default_rng(2)
    held = [
        found(6.0 + 0.25 * rng.standard_normal(3), 5.8 + 0.12 * rng.standard_normal(5)).contains(-0.2)
        for _ in range(2000)
    ]
    assert np.mean(held) == pytest.approx(0.95, abs=0.02)
