"""What bounds the prediction: the front wheel, and engine braking that must not pass for drag."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from gearfit.findings.analysis import analyse
from gearfit.machine.bike import Balance, Bike, Motion
from gearfit.prediction.lift import grip_limit_mps2, lift_limit_mps2
from gearfit.records.recording import RideFolder, RideSetup
from gearfit.records.results import SetupResult, SwapOnPaper
from gearfit.thrust.coasting import coasting
from gearfit.thrust.curve import RpmCurve
from gearfit.thrust.envelope import Open
from gearfit.thrust.machine import Machine, lever_per_m
from gearfit.thrust.paper import swap_on_paper
from gearfit.thrust.resistance import usual
from gearfit.thrust.ridden import ridden_thrust
from gearfit.thrust.run import Launch, Rule, through_the_gears
from gearfit.thrust.swap import drawn
from gearfit.thrust.traces import traces
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.manoeuvres import Coast, EngineBraking, Hold, Manoeuvre, RollOn, Standstill, Stop
from tests.simulator.recorder import observe_track
from tests.simulator.ride import TrueRide, simulate
from tests.thrust.test_from_a_ride import MACHINE, SPANS, analysed

SLOWING: dict[str, list[Manoeuvre]] = {
    "closed throttle": [EngineBraking(3000.0)],
    "neutral": [Coast(8.0)],
    "neutral, then the brake": [Coast(4.5), Stop(), Standstill(3.0)],
    "the brake": [Stop(), Standstill(3.0)],
}


@cache
def slowed(how: str) -> tuple[RideSetup, SetupResult, TrueRide]:
    """Speeding up and slowing down four times, as given; and what was truly ridden."""
    rng = np.random.default_rng(3)
    script: list[Manoeuvre] = [Standstill(5.0)]
    for gear in (3, 4, 5, 4):
        script += [Hold(gear, 5000.0, 6.0), RollOn(gear, 4500.0, 7500.0)]
        script += SLOWING[how]
    ride = simulate(MACHINE, script, rng)
    recording = observe_track(ride, SpeedChannel(), rng, rpm=RpmChannel()).recording
    setup = RideSetup(MACHINE.bike.setup("before"), (recording,))
    bike = replace(MACHINE.bike, setups=(setup.setup,))
    return setup, analyse(RideFolder(Path("."), bike, True, (setup,), ())).setups[0], ride


def coasted(how: str) -> list[Open]:
    setup, result, _ = slowed(how)
    per_rpm = {gear.gear: gear.speed_per_1000rpm_mps.value / 1000 for gear in result.gears}
    return coasting(traces(setup, result), per_rpm, usual(285.0))


@pytest.mark.parametrize(
    ("how", "expected"), [("closed throttle", 0), ("neutral", 4), ("neutral, then the brake", 4), ("the brake", 0)]
)
def test_only_coasting_without_drive_says_drag(how: str, expected: int) -> None:
    assert len(coasted(how)) == expected


def test_coasting_ends_where_the_brake_begins() -> None:
    how = "neutral, then the brake"
    _, _, ride = slowed(how)
    braking = np.gradient(ride.speed_mps, ride.time_s) < -2.0
    assert braking.any()
    times = [stretch.trace.time_s[stretch.place] for stretch in coasted(how)]
    assert [np.ptp(time) > 2.0 for time in times] == [True] * 4
    for time in times:
        assert not braking[(ride.time_s >= time[0]) & (ride.time_s <= time[-1])].any()


L, B, H, G = 1.40, 0.62, 0.70, 9.80665
WHEELS, ENGINE_M2 = 0.05, 3e-5


def strong(**bounds: float) -> Machine:
    """One gear of 15 m/s at 10000 rev/min with 9 m/s^2 of thrust at every engine speed."""
    per_rpm = 15.0 / 10_000
    one = np.ones(1)
    return Machine(
        speed_per_rpm_mps=(per_rpm,),
        curve=RpmCurve(1000.0, 10_000.0, 3),
        torque_per_kg=np.full((1, 6), 9.0 / lever_per_m(per_rpm)),
        rolling_mps2=0.16 * one,
        air_per_m=0.0012 * one,
        wheels=WHEELS * one,
        engine_m2=ENGINE_M2 * one,
        cap_mps2=np.inf * one,
        limit_rpm=10_000.0,
        **bounds,
    )


def loads(machine: Machine, speed_mps: float, spin_m: float = 0.0) -> tuple[float, float, float]:
    """Front load, rear load and driving force at the rear contact, per mass, from the balances of the whole machine.

    Unknown: acceleration, both loads, both forces at the contacts. The thrust turns engine and rear wheel, and rolls,
    before it reaches the road; the front contact turns the front wheel; `spin_m`: the wheels' mass times their radius.
    """
    turned_rear = WHEELS / 2 + ENGINE_M2 * lever_per_m(machine.speed_per_rpm_mps[0]) ** 2
    thrust = float(machine.thrust_mps2(1, np.array([speed_mps]))[0, 0])
    drag = 0.0012 * speed_mps**2
    matrix = np.array(
        [
            # a, front, rear, contact behind, contact in front (backwards)
            [1.0, 0.0, 0.0, -1.0, 1.0],  # along the road
            [0.0, 1.0, 1.0, 0.0, 0.0],  # upwards
            [turned_rear, 0.0, 0.0, 1.0, 0.0],  # rear wheel and what drives it
            [WHEELS / 2, 0.0, 0.0, 0.0, -1.0],  # front wheel
            [H + spin_m, L, 0.0, 0.0, 0.0],  # moments about the rear contact
        ]
    )
    pull, front, rear, contact, _ = np.linalg.solve(matrix, [-drag, G, thrust - 0.16, 0.0, G * B - drag * H])
    assert pull == pytest.approx(float(machine.acceleration_mps2(1, np.array([speed_mps]))[0, 0]))
    return float(front), float(rear), float(contact)


@pytest.mark.parametrize("speed_mps", [3.0, 9.0, 14.9])
def test_at_the_lift_limit_the_front_wheel_carries_nothing(speed_mps: float) -> None:
    """9 m/s^2 of thrust accelerate by 7.4 m/s^2: a front wheel that lifts at 8.0 stays down."""
    bike = Bike(balance=Balance(wheelbase_mm=1000 * L, cg_to_rear_mm=1000 * B, cg_height_mm=1000 * H))
    speed = np.array([speed_mps])
    free = strong().acceleration_mps2(1, speed)
    assert 7.0 < free[0, 0] < 8.0 - 0.0012 * speed_mps**2
    assert strong(lift_mps2=8.0).acceleration_mps2(1, speed) == pytest.approx(free)
    # An engine twice as strong does lift it.
    stronger = strong(lift_mps2=lift_limit_mps2(bike))
    stronger = replace(stronger, torque_per_kg=2 * stronger.torque_per_kg)
    assert loads(stronger, speed_mps)[0] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("grip", [0.5, 0.7])
def test_at_the_grip_limit_the_tyre_carries_what_it_can(grip: float) -> None:
    bike = Bike(
        motion=Motion(tyre_grip=grip),
        balance=Balance(wheelbase_mm=1000 * L, cg_to_rear_mm=1000 * B, cg_height_mm=1000 * H),
    )
    spin_m = WHEELS * 0.3
    _, free_rear, free = loads(strong(), 9.0, spin_m)
    assert free > grip * free_rear
    _, rear, contact = loads(strong(grip_mps2=grip_limit_mps2(bike)), 9.0, spin_m)
    # In the load of (T5) w a h / 2 stands for w a R: here 0.0175 m against 0.015 m, 0.2 % of a over L.
    assert contact == pytest.approx(grip * rear, rel=0.003)
    assert contact == pytest.approx(grip_limit_mps2(bike), rel=1e-9)


def test_a_launch_is_bounded_as_well() -> None:
    launch = Launch(np.array([4000.0]), np.array([9.0]))
    rule = Rule(np.full((1, 1), 9000.0), np.array([0.3]))
    pulls = []
    for machine in (strong(), strong(lift_mps2=6.0)):
        pulls.append(through_the_gears(machine, machine.clocks(20.0), rule, launch, 1.0).launch_mps2[0])
    air = 0.0012 * 6.0**2 / 3
    assert pulls[0] == pytest.approx((9.0 - 0.16 - air) / (1 + WHEELS))
    assert pulls[1] == pytest.approx(6.0 - air)


def bounded_by(lift_at_mps2: float) -> SwapOnPaper:
    """Put the mass so that the front wheel lifts there."""
    folder, analysis = analysed(False)
    bike = replace(folder.bike, balance=Balance(cg_height_mm=700.0, cg_to_rear_mm=700.0 * lift_at_mps2 / G))
    swap = swap_on_paper(bike, folder.setups[0], analysis.setups[0], "after", 14 / 15, SPANS)
    assert swap is not None
    return swap


def highest_mps2(factor: float) -> float:
    """Highest acceleration plus air resistance with a gearing, in first gear and in the launch."""
    folder, analysis = analysed(False)
    ridden = ridden_thrust(folder.bike, folder.setups[0], analysis.setups[0])
    assert ridden is not None
    draws = drawn(folder.bike, ridden)
    assert draws.launch is not None
    best = draws.machine.best()
    machine = best.geared((factor,) * len(best.speed_per_rpm_mps))
    speeds = np.linspace(2.0, 0.999 * machine.limit_rpm * machine.speed_per_rpm_mps[0], 200)
    in_gear = np.max(machine.acceleration_mps2(1, speeds)[0] + machine.air_per_m[0] * speeds**2)
    slipping = (draws.launch.thrust_mps2[0] / factor - machine.rolling_mps2[0]) / (1 + machine.wheels[0])
    return max(float(in_gear), float(slipping))


def test_the_front_wheel_limits_the_acceleration_after_the_swap_where_the_balance_is_stated() -> None:
    ridden, could = highest_mps2(1.0), highest_mps2(14 / 15)
    # What could be lies under the bound, although the thrust at the wheel is larger: it turns engine and wheels too.
    free = bounded_by(1.01 * could)
    assert not free.lift_capped
    assert max(free.other.thrust[0].thrust_n) / free.mass_kg > 1.01 * could
    # Between what was ridden and what could be.
    capped = bounded_by((ridden + could) / 2)
    assert capped.lift_capped
    for one, other in zip(capped.spans, free.spans, strict=True):
        assert one.difference_s is not None
        assert other.difference_s is not None
        assert one.difference_s.value > other.difference_s.value
    # A place of the mass that the ride speaks against takes nothing from what was ridden.
    low = bounded_by(0.9 * ridden)
    assert low.lift_capped
    assert low.reference.thrust[0].thrust_n == pytest.approx(free.reference.thrust[0].thrust_n, rel=1e-6)
