"""Rides with known truth: gears, levels and lag are found within their own error bars."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gearfit.comparison.shift import shift
from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.ratios.timed import fit_timed
from gearfit.fitting.which_gear.ladder import from_teeth
from gearfit.units import MPS_PER_KMH
from tests.fitting.simulated import MACHINES, ridden
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import commuter_twin, trail_bike
from tests.simulator.recorder import Logger, observe_log
from tests.simulator.stepless import cvt_ride

PLAIN = Logger()
WHOLE_KMH = Logger(speed=SpeedChannel(step_mps=MPS_PER_KMH))
CUT_KMH = Logger(speed=SpeedChannel(step_mps=MPS_PER_KMH, floored=True))
LATE_RECEIVER = Logger(speed=SpeedChannel(latency_s=0.6))
LATE_RPM = Logger(speed=SpeedChannel(latency_s=0.0), rpm=RpmChannel(lag_s=0.25))

machines = pytest.mark.parametrize("build", MACHINES)


@machines
@pytest.mark.parametrize("teeth_known", [True, False])
def test_every_gear_is_found(build: Callable[[str], Machine], teeth_known: bool) -> None:
    for seed in range(3):
        ride = ridden(build, seed, PLAIN)
        levels = ride.fit(teeth_known=teeth_known).levels
        assert levels is not None
        assert levels.gear.tolist() == list(range(1, ride.machine.gear_count + 1))
        assert levels.log_ratio == pytest.approx(ride.true_level, abs=0.01)


@pytest.mark.parametrize("logger", [PLAIN, LATE_RECEIVER, LATE_RPM, CUT_KMH], ids=["plain", "late", "early", "cut"])
def test_lag_within_its_error_bar(logger: Logger) -> None:
    """Within three standard errors on every ride, and within two on nearly all."""
    apart = []
    for build in MACHINES:
        for seed in range(2):
            ride = ridden(build, seed, logger)
            (found,) = ride.fit(teeth_known=True).streams
            assert found.lag_known
            assert found.lag_s == pytest.approx(ride.lag_s, abs=0.05)
            apart.append(abs(found.lag_s - ride.lag_s) / found.lag_se_s)
    assert max(apart) < 3
    assert np.mean(np.array(apart) < 2) >= 0.85


def test_whole_speeds_cut_down_are_told_from_rounded_ones() -> None:
    """A speed cut down to whole km/h misses half a km/h on average; where that cannot be told, the bar is wide."""
    half_step = MPS_PER_KMH / 2
    told = 0
    for logger, true_mps in ((CUT_KMH, half_step), (WHOLE_KMH, 0.0)):
        for build in MACHINES:
            for seed in range(2):
                (found,) = ridden(build, seed, logger).fit(teeth_known=True).streams
                assert abs(found.offset_mps - true_mps) <= 3 * found.offset_se_mps + 0.04 * half_step
                told += abs(found.offset_mps - true_mps) < half_step / 2
    assert told >= 14, "of 16 logs so many are nearer to the truth than to the other possibility"
    (fine,) = ridden(MACHINES[0], 0, PLAIN).fit(teeth_known=True).streams
    assert (fine.offset_mps, fine.offset_se_mps) == (0, 0)


def test_the_interval_of_the_change_holds_the_truth() -> None:
    """Of 12 pairs of rides (over 60 gears) about 95 % of the intervals hold it: binomial law, beyond 1 in 1000."""
    held, all_gears, accused = [], [], 0
    for build in MACHINES:
        before, after = build("before"), build("after")
        predicted = 100 * (before.overall_ratios[0] / after.overall_ratios[0] - 1)
        for seed in range(3):
            fits = [ridden(build, seed, PLAIN, setup).fit(teeth_known=True) for setup in ("before", "after")]
            moved = shift(fits[0].levels, fits[1].levels, predicted)
            held += [gear.change_percent.contains(predicted) for gear in moved.gears]
            accused += sum(not gear.consistent for gear in moved.gears)
            assert moved.all_gears_percent is not None
            all_gears.append(moved.all_gears_percent.contains(predicted))
    assert len(held) > 60
    assert np.mean(held) > 0.87
    assert sum(all_gears) >= 9
    assert accused <= 2


@pytest.mark.parametrize("seed", range(10))
def test_no_gears_without_a_stepped_gearbox(seed: int) -> None:
    rng = np.random.default_rng(seed)
    machine = (commuter_twin, trail_bike)[seed % 2]("before")
    log = observe_log(cvt_ride(rng, machine, duration_s=300.0), PLAIN, rng)
    streams = gather([log.recording]).streams
    for ladder in (None, from_teeth(machine.bike, machine.bike.setup("before"))):
        found = fit_timed(streams, ladder)
        assert found.levels is None
        if ladder is None:
            start, rest = found.reason.split(" in ", 1)
            assert start == "while the speed changes, the ratio of engine speed to speed stands still"
            percent, rest = rest.split(" % ", 1)
            assert int(percent) < 40
            assert rest == (
                "of the time (at least 40 % would show gears): an automatic or a belt drive, or the two channels do "
                "not belong together"
            )
        else:
            assert found.reason.startswith("engine speed and road speed do not lie at the ratios of the stated gears")
            assert "an automatic or a belt drive" in found.reason


def test_two_rides_whose_channels_were_mixed_up() -> None:
    """Speeds of one ride with the engine speeds of another show no gears."""
    one, other = ridden(trail_bike, 0, PLAIN), ridden(trail_bike, 1, PLAIN)
    (a,), (b,) = one.streams, other.streams
    mixed = replace(a, rpm_time_s=b.rpm_time_s, engine_rpm=b.engine_rpm, rpm_sd_rpm=b.rpm_sd_rpm)
    assert fit_timed([mixed], None).levels is None


def test_doubled_speeds_double_the_circumference() -> None:
    """ln(n/v) of every gear falls by ln 2 when every speed and its error is doubled."""
    ride = ridden(trail_bike, 0, PLAIN)
    (stream,) = ride.streams
    twice = replace(stream, speed_mps=2 * stream.speed_mps, speed_sd_mps=2 * stream.speed_sd_mps)
    once, doubled = fit_timed([stream], None).levels, fit_timed([twice], None).levels
    assert once is not None
    assert doubled is not None
    assert once.log_ratio - doubled.log_ratio == pytest.approx(np.log(2), abs=0.002)


def test_two_logs_of_one_setup_narrow_the_levels() -> None:
    one, other = ridden(trail_bike, 0, PLAIN), ridden(trail_bike, 1, PLAIN)
    both = fit_timed([*one.streams, *other.streams], None).levels
    single = one.fit(teeth_known=False).levels
    assert both is not None
    assert single is not None
    assert both.passages.sum() > single.passages.sum()
    assert both.log_ratio == pytest.approx(one.true_level, abs=0.008)
    assert np.all(np.diag(both.covariance) < 1.1 * np.diag(single.covariance))


def test_a_log_that_never_moves() -> None:
    """It shows no gears, tooth counts or not; beside a ride it changes nothing."""
    ride = ridden(MACHINES[0], 3, Logger())
    (stream,) = ride.streams
    ladder = from_teeth(ride.machine.bike, ride.machine.bike.setup("before"))
    standing = replace(stream, speed_mps=np.zeros_like(stream.speed_mps))
    for known in (ladder, None):
        found = fit_timed([standing], known)
        assert found.levels is None
        assert found.reason == "0 moving samples are too few to find gears in"
    alone, both = fit_timed([stream], ladder).levels, fit_timed([stream, standing], ladder).levels
    assert alone is not None
    assert both is not None
    np.testing.assert_allclose(both.log_ratio, alone.log_ratio, rtol=1e-9)
