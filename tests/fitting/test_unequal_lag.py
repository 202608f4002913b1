"""A lag that is not the same in all gears and passages goes into the levels' covariance, and accuses no sound gear."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.linalg import lstsq

from gearfit.fitting.ratios.agreement import common_level
from gearfit.fitting.ratios.joint import InGear, columns, solve
from gearfit.fitting.ratios.quantiles import t_quantile
from gearfit.fitting.ratios.unequal_lag import GEAR_LAG_SD_S, LEFT_OUT_SD, unequal_lag
from tests.fitting.test_correlated import dense
from tests.fitting.test_joint import HELD, LAG_SD_S, LEVELS, NOISE, made

FloatArray = NDArray[np.float64]
ARGUMENTS = (np.zeros(1), LAG_SD_S, HELD)


def drifting(seed: int, sd_s: float) -> InGear:
    """Return a ride whose lag differs from passage to passage."""
    samples = made(seed, lag_s=0.1)
    own_s = sd_s * np.random.default_rng([seed, 1]).standard_normal(int(samples.passage.max()) + 1)
    return replace(samples, log_ratio=samples.log_ratio + own_s[samples.passage] * samples.rate)


def test_one_gear_with_a_longer_lag_moves_the_levels_as_a_dense_solution_does() -> None:
    """Against a stacked least-squares problem, whitened by the dense covariance, with the priors as observations.

    The samples have no noise, so that no lag that varies from passage to passage is seen.
    """
    samples = made(1, passages=9)
    design = np.delete(columns(samples, samples.gear, 3), [4, 6], axis=1)
    samples = replace(samples, log_ratio=design @ [*LEVELS, 0.0, 0.0005])
    added = unequal_lag([samples], solve([samples], *ARGUMENTS), *ARGUMENTS)
    whiten = np.linalg.inv(np.linalg.cholesky(dense(samples.time_s, samples.speed_mps, NOISE)))
    prior = np.diag([0, 0, 0, 1 / LAG_SD_S, 1 / 0.0005])
    expected = LEFT_OUT_SD**2 * np.eye(3)
    for gear in range(3):
        aside = whiten @ (samples.rate * (samples.gear == gear))
        moved = lstsq(np.vstack([whiten @ design, prior]), np.concatenate([aside, np.zeros(5)]))[0][:3]
        expected += GEAR_LAG_SD_S**2 * np.outer(moved, moved)
    np.testing.assert_allclose(added, expected, rtol=1e-6, atol=1e-12)


def test_a_lag_that_drifts_is_seen_in_the_passages() -> None:
    steady, drifts = made(2, lag_s=0.1), drifting(2, 0.15)
    small, large = (np.trace(unequal_lag([s], solve([s], *ARGUMENTS), *ARGUMENTS)) for s in (steady, drifts))
    assert large > 4 * small


def test_departures_hold_their_intervals_where_the_lag_drifts_and_differs_by_gear() -> None:
    """Of 180 departures in 60 made rides, 95 % intervals hold nearly 95 % with the term, and clearly less without."""
    without: list[bool] = []
    with_it: list[bool] = []
    for seed in range(200, 260):
        samples = drifting(seed, 0.1)
        gear_s = 0.015 * np.random.default_rng([seed, 2]).standard_normal(3)
        samples = replace(samples, log_ratio=samples.log_ratio + gear_s[samples.gear] * samples.rate)
        found = solve([samples], *ARGUMENTS)
        added = unequal_lag([samples], found, *ARGUMENTS)
        for into, covariance in ((without, found.covariance), (with_it, found.covariance + added)):
            agreed = common_level(found.level - LEVELS, covariance, found.dof)
            into += [*(np.abs(agreed.departure) < t_quantile(0.975, found.dof) * agreed.departure_se)]
    assert np.mean(without) < 0.9
    assert np.mean(with_it) > 0.92


@pytest.mark.parametrize("off", [-0.01, 0.01])
def test_a_gear_one_per_cent_off_is_still_found(off: float) -> None:
    samples = made(3, lag_s=0.1)
    samples = replace(samples, log_ratio=samples.log_ratio + off * (samples.gear == 1))
    found = solve([samples], *ARGUMENTS)
    covariance = found.covariance + unequal_lag([samples], found, *ARGUMENTS)
    agreed = common_level(found.level - LEVELS, covariance, found.dof)
    assert agreed.agrees.tolist() == [True, False, True]
