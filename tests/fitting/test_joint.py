"""Levels, lag, offset and slip in one step, on made-up samples with receiver-like noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from statsmodels.regression.linear_model import GLS

from gearfit.fitting.ratios.correlated import Noise
from gearfit.fitting.ratios.joint import _ROAD_LOAD, InGear, Joint, solve
from tests.fitting.test_correlated import dense
from tests.simulator.noise import correlated_noise

FloatArray = NDArray[np.float64]

NOISE = Noise(0.04, 0.08, 1.5, 0.001)
LEVELS = np.array([5.2, 4.8, 4.5])
PASSAGES, EACH = 24, 40
HELD = [(0.0, 0.0)]
LAG_SD_S = 0.2


def made(
    seed: int, lag_s: float = 0.0, offset_mps: float = 0.0, slip: float = 0.0005, passages: int = PASSAGES
) -> InGear:
    """Return passages of 4 s with two seconds between, each speeding up or slowing down at its own rate."""
    rng = np.random.default_rng(seed)
    passage = np.repeat(np.arange(passages), EACH)
    time_s = 6.0 * passage + 0.1 * np.tile(np.arange(EACH), passages)
    rate = rng.uniform(-0.06, 0.3, passages)[passage]
    speed = rng.uniform(6, 12, passages)[passage] * np.exp(rate * (time_s - 6.0 * passage))
    gear = passage % LEVELS.size
    thrust = np.maximum(rate * speed + _ROAD_LOAD[0] + _ROAD_LOAD[1] * speed**2, -0.5)
    grid = correlated_noise(rng, 60 * passages, 0.1, NOISE.correlated_mps, NOISE.correlation_s)
    error = grid[np.round(time_s / 0.1).astype(int)] + NOISE.white_mps * rng.standard_normal(time_s.size)
    log_ratio = LEVELS[gear] + lag_s * rate + offset_mps / speed + slip * thrust - error / speed
    log_ratio += NOISE.relative * rng.standard_normal(time_s.size)
    return InGear(time_s, speed, log_ratio, rate, gear, passage, NOISE)


def solved(samples: InGear, offset_prior: tuple[float, float] = HELD[0]) -> Joint:
    return solve([samples], np.zeros(1), LAG_SD_S, [offset_prior])


def test_it_is_generalised_least_squares() -> None:
    """Against the normal equations with the dense covariance, the priors as further observations."""
    samples = made(1, lag_s=0.1, passages=9)
    thrust = np.maximum(samples.rate * samples.speed_mps + _ROAD_LOAD[0] + _ROAD_LOAD[1] * samples.speed_mps**2, -0.5)
    design = np.column_stack([samples.gear == g for g in range(3)] + [samples.rate, thrust]).astype(float)
    inverse = np.linalg.inv(dense(samples.time_s, samples.speed_mps, NOISE))
    prior = np.diag([0, 0, 0, LAG_SD_S**-2, 0.0005**-2])
    covariance = np.linalg.inv(design.T @ inverse @ design + prior)
    expected = covariance @ (design.T @ inverse @ samples.log_ratio + prior @ [0, 0, 0, 0, 0.0005])
    found = solved(samples)
    np.testing.assert_allclose(found.level, expected[:3], rtol=1e-8)
    assert found.lag_s[0] == pytest.approx(expected[3], rel=1e-5)
    assert found.slip == pytest.approx(expected[4], rel=1e-5)
    ratio = np.diag(found.covariance) / np.diag(covariance)[:3]
    np.testing.assert_allclose(ratio, ratio[0], rtol=1e-6)
    assert ratio[0] >= 1.0


def test_a_slip_off_the_usual_one_leaves_the_levels_short_as_said() -> None:
    """The solution is linear in ln(n/v): add what one standard deviation of slip adds, and see what the levels do."""
    samples = made(1)
    thrust = np.maximum(samples.rate * samples.speed_mps + _ROAD_LOAD[0] + _ROAD_LOAD[1] * samples.speed_mps**2, -0.5)
    usual, more = solved(samples), solved(replace(samples, log_ratio=samples.log_ratio + 0.0005 * thrust))
    assert (np.abs(usual.unusual_slip) > 1e-5).all()
    np.testing.assert_allclose(usual.level - more.level, usual.unusual_slip, atol=1e-9)


@pytest.mark.parametrize("lag_s", [-0.3, 0.0, 0.15])
def test_lag_and_levels_are_found_within_their_errors(lag_s: float) -> None:
    found = solved(made(2, lag_s=lag_s))
    assert found.lag_se_s[0] < 0.03
    assert found.lag_s[0] == pytest.approx(lag_s, abs=3 * found.lag_se_s[0])
    assert (np.abs(found.level - LEVELS) < 4 * np.sqrt(np.diag(found.covariance))).all()
    assert found.passages.tolist() == [8, 8, 8]


def test_a_missing_half_step_is_found_when_asked_for() -> None:
    found = solved(made(3, offset_mps=0.139), (0.07, 0.1))
    assert found.offset_se_mps[0] < 0.05
    assert found.offset_mps[0] == pytest.approx(0.139, abs=3 * found.offset_se_mps[0])


def test_slip_does_not_pass_for_lag() -> None:
    found = solved(made(4, slip=0.001))
    assert found.slip == pytest.approx(0.001, abs=3 * found.slip_se)
    assert abs(found.lag_s[0]) < 3 * found.lag_se_s[0]


def test_intervals_hold_what_they_say() -> None:
    """z of levels and lag over 60 made rides has unit spread."""
    z = []
    for seed in range(100, 160):
        found = solved(made(seed, lag_s=0.1))
        z += [
            *((found.level - LEVELS) / np.sqrt(np.diag(found.covariance))),
            (found.lag_s[0] - 0.1) / found.lag_se_s[0],
        ]
    assert 0.8 < float(np.std(z)) < 1.1


def test_what_the_ride_cannot_tell_stays_open() -> None:
    """One passage at constant speed says nothing of a lag: it keeps its prior's spread."""
    samples = made(5, passages=1)
    steady = InGear(
        samples.time_s, np.full(EACH, 10.0), samples.log_ratio, np.zeros(EACH), samples.gear, samples.passage, NOISE
    )
    found = solved(steady)
    assert found.lag_se_s[0] == pytest.approx(LAG_SD_S, rel=0.05)
    assert found.dof >= 3


def test_two_streams_share_levels_and_keep_their_own_lags() -> None:
    found = solve([made(6, lag_s=0.2), made(7, lag_s=-0.1)], np.zeros(2), LAG_SD_S, HELD * 2)
    assert found.lag_s == pytest.approx([0.2, -0.1], abs=3 * float(found.lag_se_s.max()))
    alone = solved(made(6, lag_s=0.2))
    assert found.covariance[0, 0] < alone.covariance[0, 0]


def test_it_agrees_with_statsmodels() -> None:
    """Levels against statsmodels' GLS with the same dense covariance; lag and slip as known regressors."""
    samples = made(3, passages=9)
    thrust = np.maximum(samples.rate * samples.speed_mps + _ROAD_LOAD[0] + _ROAD_LOAD[1] * samples.speed_mps**2, -0.5)
    design = np.column_stack([samples.gear == g for g in range(3)]).astype(float)
    sigma = dense(samples.time_s, samples.speed_mps, NOISE)
    found = solve([samples], np.zeros(1), 1e-9, HELD)
    reference = GLS(samples.log_ratio - found.slip * thrust, design, sigma=sigma).fit()
    np.testing.assert_allclose(found.level, reference.params, rtol=1e-9)
