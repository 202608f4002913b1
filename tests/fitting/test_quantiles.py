"""Student's t, the limit for a family of gears, and estimates, against scipy.stats."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from gearfit.fitting.ratios.quantiles import band, estimate, family_limit, log_estimate, percent_change, t_quantile

dofs = st.floats(1, 300)


@given(st.floats(0.001, 0.999), dofs)
def test_t_quantile(probability: float, dof: float) -> None:
    assert t_quantile(probability, dof) == pytest.approx(stats.t.ppf(probability, dof), rel=1e-8, abs=1e-10)


def test_t_quantile_without_end_is_the_normal_law() -> None:
    assert t_quantile(0.975, np.inf) == pytest.approx(1.959963984540054)


@given(st.integers(1, 40), dofs)
def test_family_limit(tests: int, dof: float) -> None:
    """None of so many independent true hypotheses is rejected with probability 0.99 (Sidak)."""
    one_stays_within = 1 - 2 * stats.t.sf(family_limit(tests, dof), dof)
    assert one_stays_within**tests == pytest.approx(0.99, abs=1e-8)


def test_estimate() -> None:
    found = estimate(2.0, 0.1, 12)
    assert (found.value, found.se) == (2.0, 0.1)
    assert (found.lo95, found.hi95) == pytest.approx(stats.t.interval(0.95, 12, 2.0, 0.1))


def test_log_estimate_is_symmetric_in_the_logarithm() -> None:
    found = log_estimate(np.log(2.0), 0.01, 12, scale=1000.0)
    assert found.value == pytest.approx(2000)
    assert found.se == pytest.approx(20)
    assert found.lo95 * found.hi95 == pytest.approx(2000.0**2)
    assert found.hi95 / 2000 == pytest.approx(np.exp(0.01 * stats.t.ppf(0.975, 12)))


def test_percent_change() -> None:
    found = percent_change(np.log(15 / 16), 0.002, 20)
    assert found.value == pytest.approx(-6.25)
    assert found.se == pytest.approx(100 * 15 / 16 * 0.002)
    half = 0.002 * stats.t.ppf(0.975, 20)
    assert 1 + found.lo95 / 100 == pytest.approx(15 / 16 * np.exp(-half))
    assert 1 + found.hi95 / 100 == pytest.approx(15 / 16 * np.exp(half))


def test_band_holds_one_more_draw_as_often_as_said() -> None:
    """From few draws as well: 95 % of 20,000 further draws, known to 0.3 points (two standard errors)."""
    rng = np.random.default_rng(17)
    lo, hi = band(rng.gamma(2.0, size=(240, 20_000)))
    more = rng.gamma(2.0, size=20_000)
    assert np.mean((lo <= more) & (more <= hi)) == pytest.approx(0.95, abs=0.0035)
