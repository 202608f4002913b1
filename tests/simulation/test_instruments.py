"""Instruments have the noise, latency and resolution that they are said to have."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machines import trail_bike
from tests.simulator.noise import correlated_noise, in_steps
from tests.simulator.recorder import Logger, observe_log, observe_rpm_log, observe_track
from tests.simulator.ride import TrueRide
from tests.simulator.road import Road
from tests.simulator.scripts import ten_minute_ride

Floats = NDArray[np.float64]
CLEAN_SPEED = SpeedChannel(latency_s=0.0, white_sd_mps=0.0, correlated_sd_mps=0.0, step_mps=0.0)
CLEAN_RPM = RpmChannel(lag_s=0.0, noise_sd_rpm=0.0, step_rpm=0.0)


def ride_at(speed_mps: Floats, step_s: float = 0.02) -> TrueRide:
    """Return a ride in third gear with the given speeds."""
    machine = replace(trail_bike(), slip_per_n=0.0)
    time_s = np.arange(speed_mps.size, dtype=np.float64) * step_s
    return TrueRide(
        machine=machine,
        road=Road(),
        time_s=time_s,
        speed_mps=speed_mps,
        engine_rpm=speed_mps * 60 * machine.overall_ratios[2] / machine.circumference_m,
        gear=np.full(speed_mps.size, 3),
        thrust_n=np.zeros(speed_mps.size),
        position_m=np.cumsum(speed_mps) * step_s,
        elevation_m=np.zeros(speed_mps.size),
    )


def steady_ride(duration_s: float) -> TrueRide:
    return ride_at(np.full(round(duration_s * 50) + 1, 20.0))


def rising_ride() -> TrueRide:
    return ride_at(np.linspace(5.0, 25.0, 1001))


@pytest.mark.parametrize(("sd", "correlation_s"), [(0.05, 1.0), (0.3, 3.0)])
def test_correlated_noise_has_its_spread_and_correlation(sd: float, correlation_s: float) -> None:
    n, step_s = 200_000, 0.1
    noise = correlated_noise(np.random.default_rng(1), n, step_s, sd, correlation_s)
    phi = math.exp(-step_s / correlation_s)
    # Four standard errors; that of the variance of AR(1) noise is sqrt(2 (1 + phi^2) / (n (1 - phi^2))) (Bartlett).
    room = 4 * math.sqrt(2 * (1 + phi**2) / (n * (1 - phi**2)))
    assert np.var(noise) == pytest.approx(sd**2, rel=room)
    for k in (1, 10, 30):
        correlation = np.mean(noise[k:] * noise[:-k]) / np.mean(noise**2)
        assert correlation == pytest.approx(phi**k, abs=room)


def test_correlated_noise_is_stationary_from_the_first_sample() -> None:
    rng = np.random.default_rng(2)
    firsts = np.array([correlated_noise(rng, 2, 0.1, 0.2, 2.0) for _ in range(4000)])
    room = 4 * 0.2 / math.sqrt(2 * 4000)
    assert np.std(firsts[:, 0]) == pytest.approx(0.2, abs=room)
    assert np.std(firsts[:, 1]) == pytest.approx(0.2, abs=room)


def test_no_noise_asked_for_is_no_samples_and_no_error() -> None:
    assert correlated_noise(np.random.default_rng(2), 0, 0.1, 0.2, 2.0).size == 0


@pytest.mark.parametrize("rate_hz", [1.0, 5.0, 10.0, 25.0])
def test_receiver_adds_white_and_correlated_noise(rate_hz: float) -> None:
    receiver = SpeedChannel(rate_hz=rate_hz, white_sd_mps=0.1, correlated_sd_mps=0.2, correlation_s=2.0, step_mps=0.0)
    seen = observe_track(steady_ride(4000.0), receiver, np.random.default_rng(3)).recording.samples
    assert seen["time_s"].diff().dropna().to_numpy() == pytest.approx(1 / rate_hz, abs=1e-6)
    noise = seen["speed_mps"].to_numpy() - 20.0
    phi = math.exp(-1 / (rate_hz * 2.0))
    room = 4 * math.sqrt(2 * (1 + phi**2) / (noise.size * (1 - phi**2)))
    assert np.var(noise) == pytest.approx(0.1**2 + 0.2**2, rel=room)
    assert np.mean(noise[1:] * noise[:-1]) == pytest.approx(0.2**2 * phi, abs=room * 0.05)


@pytest.mark.parametrize("latency_s", [0.0, 0.15, 0.37, 0.5])
def test_latency_delays_the_speed_by_exactly_that(latency_s: float) -> None:
    receiver = replace(CLEAN_SPEED, latency_s=latency_s)
    seen = observe_track(rising_ride(), receiver, np.random.default_rng(3))
    samples = seen.recording.samples.iloc[10:]
    expected = 5.0 + (samples["time_s"].to_numpy() - latency_s)
    np.testing.assert_allclose(samples["speed_mps"].to_numpy(), expected, rtol=1e-9)
    np.testing.assert_allclose(seen.truth["speed_mps"].to_numpy()[10:], expected, rtol=1e-9)


def test_lag_delays_the_engine_speed_and_is_stated() -> None:
    logger = Logger(speed=replace(CLEAN_SPEED, latency_s=0.3), rpm=replace(CLEAN_RPM, lag_s=0.1))
    seen = observe_log(rising_ride(), logger, np.random.default_rng(3))
    assert seen.lag_s == pytest.approx(0.2)
    rpm = seen.recording.samples["engine_rpm"].to_numpy()
    speed_mps = seen.recording.samples["speed_mps"].to_numpy()
    per_speed = 60 * 14.4 / 1.987
    np.testing.assert_allclose(rpm[10:-2] / per_speed, speed_mps[12:], rtol=1e-9)


def test_engine_speed_has_its_noise() -> None:
    rpm = replace(CLEAN_RPM, noise_sd_rpm=15.0)
    seen = observe_rpm_log(steady_ride(1000.0), rpm, np.random.default_rng(3))
    noise = seen.recording.samples["engine_rpm"] - seen.truth["engine_rpm"]
    assert noise.std() == pytest.approx(15.0, rel=4 / math.sqrt(2 * noise.size))
    assert noise.mean() == pytest.approx(0.0, abs=4 * 15.0 / math.sqrt(noise.size))


def test_scale_errors_multiply() -> None:
    logger = Logger(speed=replace(CLEAN_SPEED, scale_error=-0.01), rpm=replace(CLEAN_RPM, scale_error=0.02))
    seen = observe_log(rising_ride(), logger, np.random.default_rng(3))
    samples = seen.recording.samples
    np.testing.assert_allclose(samples["engine_rpm"], 1.02 * seen.truth["engine_rpm"], rtol=1e-12)
    np.testing.assert_allclose(samples["speed_mps"], 0.99 * seen.truth["speed_mps"], rtol=1e-12)


def test_steps_are_rounded_or_cut_off() -> None:
    values = np.array([0.0, 0.4, 0.6, 1.0, 2.999, 3.0])
    assert in_steps(values, 1.0, False).tolist() == [0.0, 0.0, 1.0, 1.0, 3.0, 3.0]
    assert in_steps(values, 1.0, True).tolist() == [0.0, 0.0, 0.0, 1.0, 2.0, 3.0]
    assert in_steps(values, 0.0, True).tolist() == values.tolist()


@pytest.mark.parametrize(("floored", "bias"), [(False, 0.0), (True, -0.5)])
def test_whole_km_per_hour_have_the_spread_of_a_step(floored: bool, bias: float) -> None:
    receiver = replace(CLEAN_SPEED, step_mps=1 / 3.6, floored=floored)
    ride = ride_at(np.linspace(5.0, 25.0, 50_001))
    seen = observe_track(ride, receiver, np.random.default_rng(3))
    error_kmh = 3.6 * (seen.recording.samples["speed_mps"].to_numpy() - seen.truth["speed_mps"].to_numpy())
    assert np.mean(error_kmh) == pytest.approx(bias, abs=0.01)
    assert np.std(error_kmh) == pytest.approx(1 / math.sqrt(12), rel=0.01)


def test_dropouts_take_points_out_at_the_stated_rate() -> None:
    receiver = replace(CLEAN_SPEED, dropouts_per_minute=1.0, dropout_s=6.0)
    seen = observe_track(steady_ride(6000.0), receiver, np.random.default_rng(3)).recording.samples
    gaps_s = seen["time_s"].diff().dropna()
    gaps_s = gaps_s[gaps_s > 0.15]
    # A dropout begins on average 60 s after the end of the last: 6000 / 66 = 91 in all, give or take four times 10.
    assert len(gaps_s) == pytest.approx(91, abs=40)
    assert gaps_s.mean() == pytest.approx(6.0, abs=4 * 6.0 / math.sqrt(len(gaps_s)))


def test_dropouts_hold_the_speed_in_a_log() -> None:
    logger = Logger(speed=replace(CLEAN_SPEED, dropouts_per_minute=6.0), rpm=CLEAN_RPM)
    samples = observe_log(rising_ride(), logger, np.random.default_rng(1)).recording.samples
    stale = ~samples["speed_fresh"].to_numpy()
    assert 5 < np.count_nonzero(stale) < 190
    speed_mps = samples["speed_mps"].to_numpy()
    assert np.array_equal(speed_mps[1:][stale[1:]], speed_mps[:-1][stale[1:]])
    assert samples["rpm_fresh"].all()


def test_polled_logger_refreshes_its_channels_in_turn() -> None:
    logger = Logger(
        rate_hz=10.0, speed=replace(CLEAN_SPEED, rate_hz=1.0), rpm=replace(CLEAN_RPM, rate_hz=1.0), in_turn=True
    )
    samples = observe_log(rising_ride(), logger, np.random.default_rng(1)).recording.samples
    assert np.flatnonzero(samples["speed_fresh"])[:3].tolist() == [0, 10, 20]
    assert np.flatnonzero(samples["rpm_fresh"])[:3].tolist() == [5, 15, 25]
    assert samples["engine_rpm"].isna().tolist()[:6] == [True] * 5 + [False]
    assert samples["speed_mps"].iloc[10:20].nunique() == 1
    np.testing.assert_allclose(samples["speed_mps"].iloc[[0, 10, 20]], [5.0, 6.0, 7.0], rtol=1e-9)


def test_recorders_of_their_own_have_their_own_clock() -> None:
    ride, rng = rising_ride(), np.random.default_rng(1)
    utc = observe_rpm_log(ride, CLEAN_RPM, rng, from_s=2.0, until_s=12.0, clock_offset_s=0.75, start_s=1000.0)
    assert utc.recording.start_s == 1002.75
    assert utc.recording.samples["time_s"].iloc[[0, -1]].tolist() == [0.0, 10.0]
    assert utc.recording.samples["engine_rpm"].iloc[0] == pytest.approx(ride.engine_rpm[100], rel=1e-9)
    elapsed = observe_rpm_log(ride, CLEAN_RPM, rng, from_s=2.0, clock="elapsed")
    assert (elapsed.recording.clock, elapsed.recording.start_s) == ("elapsed", 0.0)


def test_truth_stands_beside_each_sample() -> None:
    ride = ten_minute_ride(np.random.default_rng(1), replace(trail_bike(), slip_per_n=0.0))
    seen = observe_log(ride, Logger(speed=replace(CLEAN_SPEED, latency_s=0.2), rpm=CLEAN_RPM), np.random.default_rng(1))
    truth, machine = seen.truth, ride.machine
    assert len(truth) == len(seen.recording.samples)
    for gear in range(1, machine.gear_count + 1):
        rows = truth["rpm_gear"] == gear
        n_rpm = truth.loc[rows, "engine_rpm"]
        at_mps = np.interp(truth.loc[rows, "time_s"], ride.time_s, ride.speed_mps)
        np.testing.assert_allclose(n_rpm, at_mps * 60 * machine.overall_ratios[gear - 1] / 1.987, rtol=1e-9)


@pytest.mark.parametrize("seed", [3, 4])
def test_same_seed_same_recording(seed: int) -> None:
    ride = rising_ride()
    first, again = (observe_log(ride, Logger(), np.random.default_rng(seed)).recording.samples for _ in range(2))
    other = observe_log(ride, Logger(), np.random.default_rng(seed + 10)).recording.samples
    assert first.equals(again)
    assert not first.equals(other)
