"""Hard starts, coasting and stops alone: gears are found by lag and ladder together, and not where there are none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.ratios.timed import fit_timed
from gearfit.fitting.which_gear.evidence import place
from gearfit.fitting.which_gear.ladder import Ladder, from_teeth
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import commuter_twin, old_five_speed, trail_bike
from tests.simulator.manoeuvres import Coast, Launch, Manoeuvre, Standstill, Stop
from tests.simulator.recorder import observe_track
from tests.simulator.ride import TrueRide, simulate
from tests.simulator.stepless import cvt_ride

ENGINE_LAG_S, LATENCY_S = 0.05, 0.2


def starts(machine: Machine, rng: np.random.Generator) -> TrueRide:
    script: list[Manoeuvre] = [Standstill(6.0)]
    for _ in range(5):
        shift_rpm = 0.88 * machine.limit_rpm * float(1 + 0.02 * rng.standard_normal())
        script += [Launch(29.0, shift_rpm), Coast(4.0), Stop(), Standstill(float(rng.uniform(4.0, 9.0)))]
    return simulate(machine, script, rng)


def stream_of(ride: TrueRide, rng: np.random.Generator, rate_hz: float = 10.0) -> Stream:
    receiver = SpeedChannel(rate_hz=rate_hz, latency_s=LATENCY_S)
    recording = observe_track(ride, receiver, rng, rpm=RpmChannel(rate_hz=rate_hz, lag_s=ENGINE_LAG_S)).recording
    (stream,) = gather([recording]).streams
    return stream


def ladder_of(machine: Machine) -> Ladder:
    ladder = from_teeth(machine.bike, machine.bike.setup(machine.setup))
    assert ladder is not None
    return ladder


def test_gears_of_starts_alone() -> None:
    """Levels and lag lie within what they claim; without tooth counts there is no telling."""
    z = []
    for seed, build in enumerate((trail_bike, commuter_twin, old_five_speed) * 2):
        rng, machine = np.random.default_rng([seed, 100]), build("before")
        stream = stream_of(starts(machine, rng), rng)
        found = fit_timed([stream], ladder_of(machine))
        assert found.by_starts
        assert found.levels is not None
        assert found.levels.gear.size >= 2
        true = np.log(1000 / np.array([machine.speed_per_1000rpm_mps(int(gear)) for gear in found.levels.gear]))
        z += list((found.levels.log_ratio - true) / np.sqrt(np.diag(found.levels.covariance)))
        z.append((found.streams[0].lag_s - (LATENCY_S - ENGINE_LAG_S)) / found.streams[0].lag_se_s)
        assert found.levels.log_ratio == pytest.approx(true, abs=0.03)
        assert fit_timed([stream], None).levels is None
    assert np.sqrt(np.mean(np.square(z))) < 1.5


def sure(stream: Stream, ladder: Ladder) -> bool:
    found = place([stream], ladder)
    return found is not None and found.sure


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("length_s", [25.0, 200.0])
def test_a_belt_drive_with_stated_teeth_is_not_placed(seed: int, length_s: float) -> None:
    rng, machine = np.random.default_rng(seed), (trail_bike, commuter_twin, old_five_speed)[seed]("before")
    ride = cvt_ride(rng, machine, duration_s=length_s, low_mps=15.0, high_mps=32.0)
    stream = stream_of(ride, rng)
    assert not sure(stream, ladder_of(machine))
    for ladder in (ladder_of(machine), None):
        assert fit_timed([stream], ladder).levels is None


def test_speeds_of_one_ride_with_the_engine_of_another_are_not_placed() -> None:
    machine = trail_bike("before")
    streams = [stream_of(starts(machine, rng), rng) for rng in map(np.random.default_rng, range(4))]
    for one, other in zip(streams, [*streams[1:], streams[0]], strict=True):
        mixed = replace(one, rpm_time_s=other.rpm_time_s, engine_rpm=other.engine_rpm, rpm_sd_rpm=other.rpm_sd_rpm)
        assert sure(one, ladder_of(machine))
        assert fit_timed([mixed], ladder_of(machine)).levels is None


def test_place_and_lag() -> None:
    """With an expected shift and without, at ten and at five values a second; not from a handful of samples."""
    rng, machine = np.random.default_rng(7), commuter_twin("before")
    ride = starts(machine, rng)
    stream, ladder = stream_of(ride, rng), ladder_of(machine)
    true = float(np.log(60 / machine.circumference_m))
    for one, other in (
        (stream, ladder),
        (stream, replace(ladder, expected_shift=None)),
        (stream_of(ride, rng, 5.0), ladder),
    ):
        found = place([one], other)
        assert found is not None
        assert found.sure
        assert found.lags[0][0] == pytest.approx(LATENCY_S - ENGINE_LAG_S, abs=0.07)
        assert found.shift.shift == pytest.approx(true, abs=0.02)
    few = replace(stream, rows=stream.rows[:80], time_s=stream.time_s[:80], speed_mps=stream.speed_mps[:80])
    few = replace(few, speed_sd_mps=stream.speed_sd_mps[:80])
    assert place([few], ladder) is None
