"""Hard starts, coasting and stops alone: gears are found by lag and ladder together, and not where there are none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.fitting.ladder import Ladder, from_teeth
from gearfit.fitting.observed import observe
from gearfit.fitting.starts import place_by_starts
from gearfit.fitting.stream import Stream
from gearfit.fitting.streams import gather
from gearfit.fitting.timed import fit_timed
from gearfit.simulation.instruments import RpmChannel, SpeedChannel
from gearfit.simulation.machine import Machine
from gearfit.simulation.machines import commuter_twin, old_five_speed, trail_bike
from gearfit.simulation.manoeuvres import Coast, Launch, Manoeuvre, Standstill, Stop
from gearfit.simulation.recorder import observe_track
from gearfit.simulation.ride import TrueRide, simulate
from gearfit.simulation.stepless import cvt_ride

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


@pytest.mark.parametrize("seed", range(3))
def test_a_belt_drive_with_stated_teeth_is_not_placed(seed: int) -> None:
    rng, machine = np.random.default_rng(seed), (trail_bike, commuter_twin, old_five_speed)[seed]("before")
    ride = cvt_ride(rng, machine, duration_s=200.0, low_mps=15.0, high_mps=32.0)
    assert place_by_starts([stream_of(ride, rng)], ladder_of(machine)) is None


def test_speeds_of_one_ride_with_the_engine_of_another_are_not_placed() -> None:
    machine = trail_bike("before")
    streams = [stream_of(starts(machine, rng), rng) for rng in map(np.random.default_rng, range(4))]
    for one, other in zip(streams, [*streams[1:], streams[0]], strict=True):
        mixed = replace(one, rpm_time_s=other.rpm_time_s, engine_rpm=other.engine_rpm, rpm_sd_rpm=other.rpm_sd_rpm)
        assert place_by_starts([one], ladder_of(machine)) is not None
        assert fit_timed([mixed], ladder_of(machine)).levels is None


def test_what_the_place_needs() -> None:
    """An expected shift, and both channels at least eight times a second."""
    rng, machine = np.random.default_rng(7), commuter_twin("before")
    ride = starts(machine, rng)
    stream, ladder = stream_of(ride, rng), ladder_of(machine)
    place = place_by_starts([stream], ladder)
    assert place is not None
    assert place.lags[0][0] == pytest.approx(LATENCY_S - ENGINE_LAG_S, abs=0.051)
    assert place_by_starts([stream], replace(ladder, expected_shift=None)) is None
    assert place_by_starts([stream_of(ride, rng, 5.0)], ladder) is None
    few = replace(stream, rows=stream.rows[:80], time_s=stream.time_s[:80], speed_mps=stream.speed_mps[:80])
    few = replace(few, speed_sd_mps=stream.speed_sd_mps[:80])
    assert place_by_starts([few], ladder) is None


def test_few_samples_at_some_lags_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """No lag without neighbours: there is no place then, rather than one whose lag is no number."""
    rng, machine = np.random.default_rng(7), commuter_twin("before")
    stream = stream_of(starts(machine, rng), rng)
    counts = [int(np.sum(observe(stream, lag_s, 0.0).rpm_rate > 0.03)) for lag_s in np.arange(-0.3, 0.61, 0.05)]
    assert min(counts) < max(counts)
    for least in sorted(set(counts)):
        monkeypatch.setattr("gearfit.fitting.starts._LEAST_SAMPLES", least)
        assert (place_by_starts([stream], ladder_of(machine)) is not None) == (least == min(counts))
