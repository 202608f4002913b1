"""Whole rides: the gearing relation, what a script must contain, determinism."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gearfit.machine.bike import Bike
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, commuter_twin, old_five_speed, trail_bike
from tests.simulator.manoeuvres import EngineBraking, Hold, Launch, Manoeuvre, RollOn, Standstill, Traffic
from tests.simulator.ride import TrueRide, simulate
from tests.simulator.scripts import city_ride, hold_plan, holds_only, ten_minute_ride
from tests.simulator.stepless import cvt_ride

MACHINES = (trail_bike, commuter_twin, close_ratio_single, old_five_speed)


@pytest.mark.parametrize("build", MACHINES)
@pytest.mark.parametrize("setup", ["before", "after"])
def test_in_gear_without_slip_speed_is_exactly_n_c_over_60_i(build: Callable[[str], Machine], setup: str) -> None:
    machine = replace(build(setup), slip_per_n=0.0)
    ride = ten_minute_ride(np.random.default_rng(2), machine)
    bike = machine.bike
    drive = bike.setup(setup).final_drive
    assert bike.gearbox.primary is not None
    assert bike.gearbox.gears is not None
    assert drive.front is not None
    assert drive.rear is not None
    for gear, reduction in enumerate(bike.gearbox.gears, start=1):
        rows = ride.gear == gear
        overall = bike.gearbox.primary * reduction * drive.rear / drive.front
        speed_mps = ride.engine_rpm[rows] * machine.circumference_m / (60 * overall)
        assert rows.any()
        np.testing.assert_allclose(ride.speed_mps[rows], speed_mps, rtol=1e-12)


def test_slip_and_tyre_growth_enter_as_stated() -> None:
    machine = replace(trail_bike(), slip_per_n=5e-6, growth_per_mps2=2e-6)
    ride = ten_minute_ride(np.random.default_rng(3), machine)
    rows = ride.gear > 0
    overall = np.array(machine.overall_ratios)[ride.gear[rows] - 1]
    circumference = 1.987 * (1 + 2e-6 * ride.speed_mps[rows] ** 2)
    speed_mps = ride.engine_rpm[rows] * circumference * (1 - 5e-6 * ride.thrust_n[rows]) / (60 * overall)
    np.testing.assert_allclose(ride.speed_mps[rows], speed_mps, rtol=1e-12)


def test_speed_and_engine_speed_are_inverse_with_slip_and_growth() -> None:
    machine = replace(commuter_twin(), growth_per_mps2=3e-6)
    for gear in range(1, 7):
        speed_mps = machine.speed_mps(5000.0, gear, 250.0)
        assert machine.engine_rpm(speed_mps, gear, 250.0) == pytest.approx(5000.0, rel=1e-12)


def test_slip_takes_its_share_of_the_held_speed() -> None:
    machine = replace(trail_bike(), slip_per_n=1e-5)
    without_mps = 5000.0 * 1.987 / (60 * 14.4)
    assert machine.speed_mps(5000.0, 3, 400.0) == pytest.approx(without_mps * 0.996, rel=1e-12)
    slip = 1e-5 * machine.road_load_n(without_mps)
    assert machine.held_speed_mps(5000.0, 3) == pytest.approx(without_mps * (1 - slip), rel=1e-12)


@pytest.mark.parametrize("build", MACHINES)
def test_ten_minute_ride_has_starts_stops_and_every_gear(build: Callable[[], Machine]) -> None:
    machine = build()
    ride = ten_minute_ride(np.random.default_rng(5), machine)
    assert ride.time_s[-1] == pytest.approx(600.0, abs=0.03)
    for gear in range(1, machine.gear_count + 1):
        assert np.count_nonzero(ride.gear == gear) * ride.step_s > 10.0
    standing = ride.speed_mps == 0.0
    assert np.count_nonzero(np.diff(standing.astype(int)) == -1) >= 3
    assert ride.speed_mps.max() < 36.0
    assert ride.engine_rpm.max() < 1.01 * machine.limit_rpm
    assert ride.engine_rpm.min() > 0.99 * machine.idle_rpm
    clutch = (ride.gear == 0) & ~standing
    assert 0.02 < np.mean(clutch) < 0.25


def test_close_ratio_ladder_has_upper_steps_of_nine_to_twelve_per_cent() -> None:
    ratios = np.array(close_ratio_single().overall_ratios)
    steps = ratios[:-1] / ratios[1:]
    assert np.all((steps[2:] >= 1.09) & (steps[2:] <= 1.12))


def test_hold_stays_at_its_engine_speed() -> None:
    machine = trail_bike()
    ride = simulate(machine, [Hold(4, 5000.0, 20.0)], np.random.default_rng(1))
    held = ride.engine_rpm[-900:]
    assert set(ride.gear[-900:]) == {4}
    assert np.mean(held) == pytest.approx(5000.0, rel=0.01)
    assert np.std(held) < 75.0


def test_launch_shifts_at_the_shift_speed() -> None:
    machine = trail_bike()
    ride = simulate(machine, [Standstill(2.0), Launch(24.0, 8200.0)], np.random.default_rng(1))
    leaves = np.flatnonzero((ride.gear[:-1] > 0) & (ride.gear[1:] == 0))
    assert leaves.size >= 3
    np.testing.assert_allclose(ride.engine_rpm[leaves], 8200.0, rtol=0.02)
    assert ride.speed_mps[-1] == pytest.approx(24.0, abs=0.2)


def test_roll_on_and_engine_braking_stay_in_gear() -> None:
    script: list[Manoeuvre] = [RollOn(4, 3500.0, 7500.0), EngineBraking(3500.0)]
    ride = simulate(trail_bike(), script, np.random.default_rng(1))
    peak = int(np.argmax(ride.speed_mps))
    assert set(ride.gear[peak:]) == {4}
    assert np.all(ride.thrust_n[peak + 2 :] < 0)
    assert ride.engine_rpm[-1] == pytest.approx(3500.0, rel=0.02)


def test_city_ride_stays_slow_and_stops_often() -> None:
    ride = city_ride(np.random.default_rng(4), commuter_twin())
    assert ride.speed_mps.max() < 19.0
    assert np.count_nonzero(np.diff((ride.speed_mps == 0.0).astype(int)) == 1) >= 8


def test_holds_only_rides_the_gears_asked_for() -> None:
    plan = hold_plan(trail_bike(), (0.5,), gears=(3, 4, 5, 6))
    ride = holds_only(np.random.default_rng(4), trail_bike(), plan=plan)
    for gear in (3, 4, 5, 6):
        assert np.count_nonzero(ride.gear == gear) * ride.step_s >= 10.0


@pytest.mark.parametrize("script", [ten_minute_ride, city_ride, holds_only, cvt_ride])
def test_same_seed_same_ride_other_seed_other_ride(script: Callable[..., TrueRide]) -> None:
    first, again, other = (script(np.random.default_rng(seed), trail_bike()) for seed in (8, 8, 9))
    for name in ("time_s", "speed_mps", "engine_rpm", "gear", "thrust_n", "position_m", "elevation_m"):
        np.testing.assert_array_equal(getattr(first, name), getattr(again, name))
    n = min(first.speed_mps.size, other.speed_mps.size)
    assert not np.array_equal(first.speed_mps[:n], other.speed_mps[:n])


def test_stepless_ride_has_no_preferred_ratio() -> None:
    ride = cvt_ride(np.random.default_rng(6), trail_bike())
    riding = ride.speed_mps > 3.0
    assert set(ride.gear) == {0}
    counts, _ = np.histogram(np.log(ride.engine_rpm[riding] / ride.speed_mps[riding]), bins=30)
    assert counts.max() < 0.2 * np.count_nonzero(riding)


def test_gear_between_two_samples_is_none_at_a_change() -> None:
    ride = simulate(trail_bike(), [Launch(20.0, 8000.0)], np.random.default_rng(1))
    k = int(np.flatnonzero((ride.gear[:-1] > 0) & (ride.gear[1:] == 0))[0])
    between = np.array([-1.0, ride.time_s[k], ride.time_s[k] + 0.01, ride.time_s[-1] + 1.0])
    assert ride.gear_at(between).tolist() == [0, ride.gear[k], 0, 0]


def test_machine_without_stated_gearing_is_refused() -> None:
    with pytest.raises(ValueError) as caught:
        replace(trail_bike(), bike=Bike())
    assert str(caught.value) == "setup 'before': primary, gears, front and rear must all be stated"


def test_script_without_a_ride_is_refused() -> None:
    with pytest.raises(ValueError) as caught:
        simulate(trail_bike(), [], np.random.default_rng(0))
    assert str(caught.value) == (
        "the script is over before two steps are done; give it at least one manoeuvre that lasts"
    )


def test_traffic_lasts_until_its_time() -> None:
    ride = simulate(trail_bike(), [Traffic(120.0, 5.0, 20.0)], np.random.default_rng(3), duration_s=100.0)
    assert ride.time_s[-1] == pytest.approx(100.0)
