"""Scatter split into its two parts; densities of ln ratio."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from gearfit.fitting.pairing.density import concentration, smooth_density, value_grid
from gearfit.fitting.ratios.noise import scatter


@pytest.mark.parametrize(("speed_sd", "rpm_sd"), [(0.1, 0.002), (0.3, 0.004), (0.05, 0.01)])
def test_injected_noise_is_recovered(speed_sd: float, rpm_sd: float) -> None:
    rng = np.random.default_rng(9)
    speed = rng.uniform(3, 40, 8000)
    residual = np.hypot(speed_sd / speed, rpm_sd) * rng.standard_normal(speed.size)
    found = scatter(residual, speed)
    assert found is not None
    assert np.hypot(found[0] / speed, found[1]) == pytest.approx(np.hypot(speed_sd / speed, rpm_sd), rel=0.1)
    assert found == pytest.approx((speed_sd, rpm_sd), rel=0.25)


def test_a_few_strays_do_not_swell_it() -> None:
    rng = np.random.default_rng(10)
    speed = rng.uniform(3, 40, 4000)
    residual = np.hypot(0.1 / speed, 0.003) * rng.standard_normal(speed.size)
    residual[:80] += 0.05
    found = scatter(residual, speed)
    assert found is not None
    assert np.hypot(found[0] / speed, found[1]) == pytest.approx(np.hypot(0.1 / speed, 0.003), rel=0.25)


def test_too_few_samples_have_no_scatter() -> None:
    assert scatter(np.zeros(29), np.ones(29)) is None


def test_density_conserves_weight() -> None:
    rng = np.random.default_rng(11)
    values, sd, weight = rng.uniform(4, 6, 500), rng.uniform(0.003, 0.02, 500), rng.uniform(0, 2, 500)
    grid = value_grid(values)
    density = smooth_density(values, sd, weight, grid)
    assert density.sum() * (grid[1] - grid[0]) == pytest.approx(weight.sum(), rel=1e-9)
    assert np.all(density >= 0)


def test_density_of_one_value_is_its_bell() -> None:
    """Against scipy.stats.norm; a bin is a tenth of the width, and the bell is cut at four deviations."""
    grid = np.linspace(4.9, 5.1, 201)
    density = smooth_density(np.array([5.0]), np.array([0.01]), np.array([3.0]), grid)
    assert density == pytest.approx(3 * norm.pdf(grid, 5.0, 0.01), abs=0.05)


def test_crowded_values_are_concentrated() -> None:
    rng = np.random.default_rng(12)
    sd = np.full(1000, 0.01)
    crowded = rng.choice([4.0, 4.5, 5.0], 1000) + 0.01 * rng.standard_normal(1000)
    spread = rng.uniform(3.8, 5.2, 1000)
    assert concentration(crowded, sd) > 3 * concentration(spread, sd)
    assert concentration(spread, sd) == pytest.approx(1 / 1.4, rel=0.15), "a uniform density over 1.4"


def test_grid_covers_the_values() -> None:
    grid = value_grid(np.array([4.0, 5.0]))
    assert grid[0] == pytest.approx(3.9)
    assert grid[-1] >= 5.1
    assert np.diff(grid) == pytest.approx(0.002)
