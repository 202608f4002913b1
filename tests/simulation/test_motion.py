"""The equation of motion against closed forms and published coast-down times."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.simulator.machine import AIR_DENSITY_KGPM3, GRAVITY_MPS2, Machine
from tests.simulator.machines import commuter_twin, trail_bike
from tests.simulator.manoeuvres import Coast
from tests.simulator.motion import Motion
from tests.simulator.ride import TrueRide, simulate
from tests.simulator.road import Road, Wave

#: 40 CFR 86.529-98, Figure F98-9: mass kg, A N, C N/(km/h)^2, target time of the coast-down from 70 to 60 km/h in s.
#: The row of 160 kg is left out: its printed target does not agree with its own A and C.
COAST_DOWNS = (
    (100, 0.00, 0.0224, 2.95),
    (110, 0.82, 0.0227, 3.18),
    (120, 1.70, 0.0230, 3.39),
    (130, 2.57, 0.0233, 3.60),
    (140, 3.44, 0.0235, 3.80),
    (150, 4.32, 0.0238, 3.99),
    (170, 6.06, 0.0244, 4.36),
    (180, 6.94, 0.0246, 4.53),
    (190, 7.81, 0.0249, 4.69),
    (200, 8.69, 0.0252, 4.85),
    (210, 9.56, 0.0255, 5.00),
    (220, 10.43, 0.0257, 5.15),
    (230, 11.31, 0.0260, 5.30),
    (240, 12.18, 0.0263, 5.43),
    (250, 13.06, 0.0266, 5.57),
    (260, 13.93, 0.0268, 5.70),
    (270, 14.80, 0.0271, 5.82),
    (280, 15.68, 0.0274, 5.95),
    (290, 16.55, 0.0277, 6.06),
    (300, 17.43, 0.0279, 6.18),
    (310, 18.30, 0.0282, 6.29),
    (320, 19.17, 0.0285, 6.40),
    (330, 20.05, 0.0288, 6.50),
    (340, 20.92, 0.0290, 6.60),
)


def frictionless() -> Machine:
    return replace(trail_bike(), drag_area_m2=0.0, rolling_coefficient=0.0, wheel_mass_kg=0.0, engine_inertia_kgm2=0.0)


def crossing_s(ride: TrueRide, speed_mps: float) -> float:
    return float(np.interp(-speed_mps, -ride.speed_mps, ride.time_s))


@pytest.mark.parametrize(("mass_kg", "a_n", "c_n", "printed_s"), COAST_DOWNS)
def test_coast_down_takes_the_published_time(mass_kg: float, a_n: float, c_n: float, printed_s: float) -> None:
    machine = replace(
        trail_bike(),
        mass_kg=mass_kg,
        wheel_mass_kg=0.0,
        rolling_coefficient=a_n / (mass_kg * GRAVITY_MPS2),
        drag_area_m2=2.0 * c_n * 3.6**2 / AIR_DENSITY_KGPM3,
    )
    ride = simulate(machine, [Coast(15.0)], np.random.default_rng(0), start_mps=75.0 / 3.6)
    assert crossing_s(ride, 60 / 3.6) - crossing_s(ride, 70 / 3.6) == pytest.approx(printed_s, rel=0.005)


def test_constant_thrust_gives_t_equals_m_v_over_f() -> None:
    motion = Motion(frictionless(), Road())
    motion.lever = 1
    while motion.speed < 8.0:
        motion.pull(300.0)
    assert set(motion.thrusts) == {300.0}
    assert motion.time == pytest.approx(motion.speed * motion.machine.mass_kg / 300.0, rel=1e-12)
    assert motion.position == pytest.approx(0.5 * motion.speed * motion.time, rel=1e-12)


def test_turning_parts_add_their_inertia_over_radius_squared() -> None:
    machine = replace(frictionless(), wheel_mass_kg=12.0, engine_inertia_kgm2=0.01)
    motion = Motion(machine, Road(), speed_mps=10.0)
    motion.lever = 2
    for _ in range(100):
        motion.pull(200.0)
    radius_m = machine.circumference_m / (2 * np.pi)
    inertia_kg = machine.mass_kg + 12.0 + 0.01 * (machine.overall_ratios[1] / radius_m) ** 2
    assert set(motion.gears) == {2}
    assert motion.speed - 10.0 == pytest.approx(200.0 * 2.0 / inertia_kg, rel=1e-9)


def test_energy_is_kept_over_a_hill_without_friction() -> None:
    road = Road(hills=(Wave(8.0, 700.0, 0.4),))
    ride = simulate(frictionless(), [Coast(60.0)], np.random.default_rng(0), road=road, start_mps=20.0)
    energy = 0.5 * ride.speed_mps**2 + GRAVITY_MPS2 * ride.elevation_m
    assert np.ptp(ride.elevation_m) > 15.0
    assert np.ptp(energy) < 0.005 * np.ptp(0.5 * ride.speed_mps**2)


def test_speed_settles_where_thrust_equals_road_load() -> None:
    motion = Motion(commuter_twin(), Road(), speed_mps=25.0)
    motion.lever = 6
    for _ in range(20_000):
        motion.pull(np.inf)
    assert motion.thrusts[-1] == pytest.approx(motion.machine.road_load_n(motion.speed), rel=1e-6)


def test_a_finer_step_hardly_changes_a_roll_on() -> None:
    fine, coarse = (Motion(trail_bike(), Road(), step, 10.0) for step in (0.001, 0.02))
    for motion in (fine, coarse):
        motion.lever = 3
        while motion.time < 2.0 - 1e-9:
            motion.pull(np.inf)
        assert set(motion.gears) == {3}
        assert max(motion.rpms) < motion.machine.limit_rpm
    assert coarse.speed - 10.0 == pytest.approx(fine.speed - 10.0, rel=0.001)


def test_limiter_holds_the_engine_at_its_limit() -> None:
    motion = Motion(trail_bike(), Road())
    motion.lever = 1
    for _ in range(500):
        motion.pull(np.inf)
    assert max(motion.rpms) == pytest.approx(motion.machine.limit_rpm, rel=0.02)
    assert min(motion.rpms[-50:]) > 0.97 * motion.machine.limit_rpm


def test_clutch_slips_below_the_engaging_speed() -> None:
    motion = Motion(trail_bike(), Road())
    motion.lever = 1
    for _ in range(150):
        motion.pull(np.inf, 4800.0)
    slipping = np.array(motion.gears) == 0
    assert slipping[0]
    assert not slipping[-1]
    assert set(np.array(motion.rpms)[slipping]) == {4800.0}
    own_rpm = motion.machine.engine_rpm(motion.speeds[int(np.argmin(slipping))], 1)
    assert own_rpm == pytest.approx(4800.0, rel=0.03)


def test_shift_lasts_its_time_without_drive() -> None:
    motion = Motion(trail_bike(), Road(), speed_mps=12.0)
    motion.lever, motion.rpm = 2, motion.rpm_in(2)
    motion.shift(3)
    assert motion.time == pytest.approx(motion.machine.shift_time_s, abs=motion.step_s)
    assert set(motion.gears) == {0}
    assert set(motion.thrusts) == {0.0}
    assert motion.rpms[0] > motion.rpms[-1] > motion.rpm_in(3)
