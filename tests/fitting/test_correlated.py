"""Generalised least squares with correlated noise, against dense linear algebra."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.fitting.ratios.correlated import Noise, weighting

FloatArray = NDArray[np.float64]


def dense(time_s: FloatArray, speed_mps: FloatArray, noise: Noise) -> FloatArray:
    """Covariance of ln(n/v), written out."""
    apart = np.abs(time_s[:, None] - time_s[None, :])
    correlated = noise.correlated_mps**2 * np.exp(-apart / noise.correlation_s)
    covariance: FloatArray = correlated / np.outer(speed_mps, speed_mps)
    covariance += np.diag((noise.white_mps / speed_mps) ** 2 + noise.relative**2)
    return covariance


@pytest.mark.parametrize("correlated_mps", [0.0, 0.08, 0.3])
def test_the_inverse_is_that_of_the_dense_matrix(correlated_mps: float) -> None:
    rng = np.random.default_rng(1)
    time_s = np.cumsum(rng.choice([0.1, 0.1, 0.1, 2.5], 80))
    speed_mps = rng.uniform(4, 30, 80)
    noise = Noise(0.04, correlated_mps, 1.5, 0.002)
    columns = rng.standard_normal((80, 3))
    expected = np.linalg.solve(dense(time_s, speed_mps, noise), columns)
    found = weighting(time_s, speed_mps, noise)
    np.testing.assert_allclose(found.apply(columns), expected, rtol=1e-9)
    np.testing.assert_allclose(found.apply(columns[:, 1]), expected[:, 1], rtol=1e-9)


def test_the_variance_is_the_diagonal() -> None:
    noise = Noise(0.04, 0.1, 2.0, 0.003)
    speed_mps = np.array([5.0, 20.0])
    np.testing.assert_allclose(noise.variance(speed_mps), np.diag(dense(np.array([0.0, 1.0]), speed_mps, noise)))
