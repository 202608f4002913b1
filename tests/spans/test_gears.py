"""Gears, shifts and throttle of simulated starts whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.fitting.setup_fit import fit_setup, gather_setup, sample_frame
from gearfit.fitting.which_gear.ladder import from_teeth
from gearfit.records.recording import RideSetup
from gearfit.timed.asked import Span
from gearfit.timed.find import find_runs, runs_in
from gearfit.timed.noise import noise_in
from gearfit.timed.throttle import Pull, share_of_envelope
from gearfit.timed.trace import make_trace
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machines import close_ratio_single, trail_bike
from tests.simulator.manoeuvres import Launch, Manoeuvre, Standstill, Stop
from tests.simulator.recorder import observe_track
from tests.simulator.ride import simulate
from tests.simulator.scripts import full_throttle_ride

SHIFT_SHARE = 0.93


def test_gears_and_shifts_of_a_start() -> None:
    """Upshifts as scripted: at 93 % of the limit, 0.35 s without drive."""
    rng = np.random.default_rng(12)
    machine = close_ratio_single()
    shift_rpm = SHIFT_SHARE * machine.limit_rpm
    script: list[Manoeuvre] = [Standstill(6.0), Launch(30.0, shift_rpm), Stop(), Standstill(4.0)]
    observed = observe_track(simulate(machine, script, rng), SpeedChannel(), rng, rpm=RpmChannel(lag_s=0.2))
    s, truth = observed.recording.samples, observed.truth
    trace = make_trace(
        s["time_s"].to_numpy(),
        s["speed_mps"].to_numpy(),
        engine_rpm=s["engine_rpm"].to_numpy(),
        gear=truth["gear"].to_numpy(),
        latitude_deg=s["latitude_deg"].to_numpy(),
        longitude_deg=s["longitude_deg"].to_numpy(),
    )
    (run,) = runs_in([trace], [noise_in(trace, None)], [Span(0.0, 100 / 3.6)]).timed
    assert run.gears == tuple(range(1, len(run.gears) + 1))
    assert len(run.shifts) == len(run.gears) - 1 >= 2
    for shift in run.shifts:
        assert shift.to_gear == shift.from_gear + 1
        assert shift.engine_rpm == pytest.approx(shift_rpm, rel=0.04)
        assert shift.duration_s == pytest.approx(machine.shift_time_s, abs=0.11)
        assert shift.lost_s is not None
        assert 0.2 < shift.lost_s < 0.6
    assert run.heading_deg is not None
    assert run.trace is not None
    assert np.max(np.abs(run.trace.speed_mps - run.trace.recorded_mps)) < 0.5


def test_half_throttle_is_told_in_the_same_gear() -> None:
    """A roll-on at 60 % of the acceleration of another one in the same gear does not count."""
    at = np.array([0, 5, 13, 20, 25, 38.3, 45])
    speeds = np.array([10, 10, 30, 30, 10, 30, 30.0])
    time_s = np.arange(450) / 10
    speed = np.interp(time_s, at, speeds)
    trace = make_trace(time_s, speed, gear=np.full(time_s.size, 4))
    found = runs_in([trace], [noise_in(trace, None)], [Span(15.0, 25.0)])
    assert [(run.how, run.gears) for run in found.timed] == [("roll-on", (4,))]
    assert [run.reason for run in found.left_out] == ["part throttle: 60 % of the hardest acceleration"]


@pytest.mark.parametrize(("reach", "share"), [(0, 0.75), (1, 1.0), (5, 0.75)])
def test_what_was_before_and_after_the_run_is_no_part_of_its_throttle(reach: int, share: float) -> None:
    """The first and the last acceleration of a run are half of others; windows of one sample to each side reach out."""
    rates = np.array([0.1, 1.0, 2.0, 2.0, 1.0, 0.1])
    pull = Pull(rates, np.full(6, 407), 1.0, True, reach)
    assert share_of_envelope(pull, 1, 4, {407: 2.0}) == pytest.approx(share)


@pytest.mark.parametrize("rate_hz", [5.0, 10.0])
def test_shift_speed_is_that_of_the_moment_and_not_of_the_sample_before(rate_hz: float) -> None:
    """The last sample in gear comes up to an interval too early: 5 % and more in first gear at 5 Hz."""
    machine = trail_bike()
    shift_rpm = 0.85 * machine.limit_rpm
    script: list[Manoeuvre] = [Standstill(6.0)]
    for _ in range(5):
        script += [Launch(30.0, shift_rpm), Stop(), Standstill(4.0)]
    rng = np.random.default_rng(3)
    rpm = RpmChannel(rate_hz=rate_hz)
    observed = observe_track(simulate(machine, script, rng), SpeedChannel(rate_hz=rate_hz), rng, rpm=rpm)
    ride = RideSetup(machine.bike.setup("before"), (observed.recording,))
    fit = fit_setup(gather_setup(ride), from_teeth(machine.bike, ride.setup))
    runs = find_runs(ride, fit, sample_frame(fit), [Span(0.0, 100 / 3.6)]).timed
    off = [s.engine_rpm / shift_rpm - 1 for run in runs for s in run.shifts if s.engine_rpm]
    assert len(off) >= 8
    assert np.mean(off) == pytest.approx(0.0, abs=0.015)
    assert np.max(np.abs(off)) < 0.05


def test_without_gears_a_span_full_of_shifts_is_open_throttle_all_the_same() -> None:
    """From 60 to 100 km/h on the way of a start two shifts lie, which smear most of it."""
    rng = np.random.default_rng(5)
    ride = full_throttle_ride(rng, close_ratio_single(), duration_s=300.0, grade_sd=0.0)
    s = observe_track(ride, SpeedChannel(), rng).recording.samples
    trace = make_trace(s["time_s"].to_numpy(), s["speed_mps"].to_numpy())
    found = runs_in([trace], [noise_in(trace, None)])
    counts = [sum(abs(run.from_mps - low) < 0.1 for run in found.timed) for low in (0.0, 60 / 3.6)]
    assert counts == [10, 5]
    assert not [run for run in found.left_out if run.reason.startswith("part")]
