"""Climb and lift against a published problem and plain mechanics."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from gearfit.machine.bike import Balance, Engine, Motion
from gearfit.prediction.basis import on_paper
from gearfit.prediction.lift import GRAVITY_MPS2, climb, grade_percent, lift_acceleration_mps2, thrust_n
from tests.prediction.machines import BIKE, SETUP

GEARING = on_paper(BIKE, SETUP, "bike.toml")


# A published motorcycle problem: h = 0.785 m, wheelbase 1.46 m, centre of gravity halfway (b = 0.73 m), g = 9.81 m/s^2
# give 9.12267515924 m/s^2.
def test_lift_of_a_published_problem() -> None:
    assert lift_acceleration_mps2(0.73, 0.785) * 9.81 / GRAVITY_MPS2 == pytest.approx(9.12267515924, rel=1e-11)


def test_thrust_times_speed_is_torque_times_turning_speed() -> None:
    speed_mps = GEARING.speed_per_1000rpm_mps[2]
    assert thrust_n(32.0, speed_mps) * speed_mps == pytest.approx(32.0 * 2 * math.pi * 1000 / 60)


# A weight of which half is pulled along the slope stays on a slope of 30 degrees: 57.7 %.
def test_grade_that_a_thrust_holds() -> None:
    assert grade_percent(0.5 * 100 * GRAVITY_MPS2, 100.0) == pytest.approx(100 * math.tan(math.radians(30)))
    assert grade_percent(100 * GRAVITY_MPS2, 100.0) is None


def test_gears_of_the_invented_machine() -> None:
    found = climb(BIKE, GEARING)
    assert found is not None
    assert found.lift_grade_percent == pytest.approx(100 * 690 / 640)
    first = found.gears[0]
    # worked by hand: i = 74/25 x 35/13 x 43/14 = 24.477, F = 32 x 24.477 x 2 pi / 1.950 = 2524 N
    assert first.thrust_n == pytest.approx(2524, abs=1)
    assert first.acceleration_mps2 == pytest.approx(2524 / 255, abs=0.01)
    assert first.lift_torque_nm == pytest.approx(255 * 9.80665 * 690 / 640 / (2524 / 32), abs=0.05)
    for gear in found.gears:
        assert gear.acceleration_mps2 is not None
        assert gear.lift_torque_nm is not None
        assert gear.lifts is (gear.lift_torque_nm < 32)


def test_what_is_not_stated_is_not_told() -> None:
    torque_only = climb(replace(BIKE, balance=Balance()), GEARING)
    assert torque_only is not None
    assert torque_only.lift_acceleration_mps2 is None
    assert {(gear.lifts, gear.lift_torque_nm) for gear in torque_only.gears} == {(None, None)}
    balance_only = climb(replace(BIKE, engine=Engine()), GEARING)
    assert balance_only is not None
    assert {(gear.thrust_n, gear.climb_percent, gear.lifts) for gear in balance_only.gears} == {(None, None, None)}
    assert climb(replace(BIKE, total_kg=None), GEARING) is None
    assert climb(replace(BIKE, engine=Engine(), balance=Balance()), GEARING) is None


# Moments about the front contact on a slope of angle t: the rear tyre carries m g (cos t (L - b) + sin t h) / L, and
# lets go where m g sin t is mu times that; solved numerically here, apart from the formula.
def _slides_at_percent(grip: float, wheelbase: float, to_rear: float, height: float) -> float:
    low, high = 0.0, math.pi / 2
    for _ in range(60):
        angle = (low + high) / 2
        carried = (math.cos(angle) * (wheelbase - to_rear) + math.sin(angle) * height) / wheelbase
        low, high = (low, angle) if math.sin(angle) > grip * carried else (angle, high)
    return 100 * math.tan(low)


@pytest.mark.parametrize(
    ("grip", "limit", "percent"),
    [
        (0.5, "grip", _slides_at_percent(0.5, 1410.0, 690.0, 640.0)),
        (None, "grip", _slides_at_percent(1.0, 1410.0, 690.0, 640.0)),
        (1.4, "front wheel", 100 * 690 / 640),
    ],
)
def test_no_thrust_climbs_steeper_than_front_wheel_and_grip_allow(
    grip: float | None, limit: str, percent: float
) -> None:
    strong = replace(BIKE, engine=replace(BIKE.engine, torque_nm=90.0), motion=Motion(tyre_grip=grip))
    found = climb(strong, GEARING)
    assert found is not None
    first = found.gears[0]
    assert first.grade_percent is None  # 7100 N for 2500 N of weight
    assert first.climb_limit == limit
    assert first.climb_percent == pytest.approx(percent)
    top = found.gears[-1]
    assert top.climb_percent is not None
    assert top.climb_percent <= percent


def test_where_the_mass_is_not_placed_grip_alone_bounds_and_a_weak_engine_is_its_own_limit() -> None:
    found = climb(replace(BIKE, balance=Balance(), motion=Motion(tyre_grip=0.8)), GEARING)
    assert found is not None
    assert {gear.climb_limit for gear in found.gears[:1]} == {"grip"}
    assert found.gears[0].climb_percent == pytest.approx(80)
    assert found.gears[-1].climb_limit == "thrust"
    assert found.gears[-1].climb_percent == found.gears[-1].grade_percent
