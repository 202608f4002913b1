"""Mean of runs whose own errors differ: the interval must not rest on the weights being right."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from gearfit.comparison.run_means import difference, run_mean


def test_variance_of_the_mean_is_that_of_statsmodels() -> None:
    """HC2 of a weighted constant, for the weights that the scatter beyond the own errors gives."""
    times_s, own_se_s = np.array([5.9, 6.2, 6.05, 6.6, 5.8]), np.array([0.05, 0.1, 0.05, 0.3, 0.2])
    between = np.var(times_s, ddof=1) - np.mean(own_se_s**2)
    fit = sm.WLS(times_s, np.ones(5), weights=1 / (between + own_se_s**2)).fit(cov_type="HC2")
    found = run_mean(times_s, own_se_s)
    assert found.mean_s == pytest.approx(fit.params[0])
    assert found.se_s == pytest.approx(fit.bse[0])


def test_equal_errors_make_the_usual_mean() -> None:
    times_s = np.array([5.9, 6.2, 6.05, 6.6])
    found = run_mean(times_s, np.full(4, 0.05))
    assert found.mean_s == pytest.approx(times_s.mean())
    assert found.se_s == pytest.approx(np.std(times_s, ddof=1) / 2)
    assert found.dof == pytest.approx(3.0)


def test_one_run_that_is_all_the_weight() -> None:
    found = run_mean(np.array([6.0, 6.0]), np.array([1e-9, 0.5]))
    assert found.se_s == pytest.approx(0.0, abs=1e-6)
    assert found.mean_s == pytest.approx(6.0)


@pytest.mark.parametrize("truthful", [True, False])
def test_intervals_hold_whether_the_own_errors_are_right_or_not(truthful: bool) -> None:
    """Stated errors of eight runs differ by half; either they are the true ones, or all runs scatter alike."""
    rng = np.random.default_rng(2)
    held = quicker = 0
    pairs = 3000
    for _ in range(pairs):
        own = 0.11 * np.exp(0.4 * rng.standard_normal((2, 8)))
        scatter = np.hypot(own, 0.05) if truthful else np.full((2, 8), 0.14)
        sides = [run_mean(6 + s * rng.standard_normal(8), o) for s, o in zip(scatter, own, strict=True)]
        found = difference(*sides)
        assert found is not None
        held += found.contains(0.0)
        quicker += found.hi95 < 0
    assert 94.0 < 100 * held / pairs < 98.0
    assert 100 * quicker / pairs < 3.2
