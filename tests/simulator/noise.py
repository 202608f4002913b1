"""Noise and resolution of recorded channels."""

from __future__ import annotations

import math

import numpy as np

from tests.simulator.road import Floats


def correlated_noise(rng: np.random.Generator, n: int, step_s: float, sd: float, correlation_s: float) -> Floats:
    """Stationary first-order autoregressive noise, shape (n,).

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of everything random.
    n : int
        Number of samples.
    step_s : float
        Their spacing in seconds.
    sd : float
        Standard deviation of each sample.
    correlation_s : float
        Time in seconds in which the autocorrelation falls to 1/e: rho(k) = exp(-k step_s / correlation_s).

    Notes
    -----
    x(k+1) = phi x(k) + sd sqrt(1 - phi^2) e(k), phi = exp(-step_s / correlation_s), e standard normal; x(0) from
    the stationary distribution (G. E. P. Box and G. M. Jenkins, Time Series Analysis; from memory).
    """
    phi = math.exp(-step_s / correlation_s)
    share = sd * math.sqrt(1.0 - phi * phi)
    shocks = rng.standard_normal(n).tolist()
    values: list[float] = []
    value = sd * shocks[0] if shocks else 0.0
    for shock in shocks[1:]:
        values.append(value)
        value = phi * value + share * shock
    if shocks:
        values.append(value)
    return np.array(values, dtype=np.float64)


def in_steps(values: Floats, step: float, floored: bool) -> Floats:
    """Round values to multiples of `step`, or cut them off downwards; as they are where `step` is 0."""
    if step == 0.0:
        return values
    # The tiny addition keeps a value that is a whole multiple, but for binary rounding, from being cut one down.
    return step * (np.floor(values / step + 1e-9) if floored else np.rint(values / step))
