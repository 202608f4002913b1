"""What bike.toml states of resistance, turning parts and grip is used, and bounds are those of published examples."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.machine.bike import Balance, Bike, Conditions, Motion
from gearfit.prediction.lift import grip_force_mps2, grip_limit_mps2, lift_acceleration_mps2, lift_limit_mps2
from gearfit.records.results import SwapOnPaper
from gearfit.thrust.paper import swap_on_paper
from gearfit.thrust.resistance import resistance_of, usual
from gearfit.thrust.ridden import ridden_thrust
from tests.thrust.test_from_a_ride import MACHINE, SPANS, analysed, predicted


def stated(motion: Motion, balance: Balance | None = None) -> SwapOnPaper:
    folder, analysis = analysed(False)
    bike = replace(folder.bike, motion=motion, balance=balance or Balance())
    swap = swap_on_paper(bike, folder.setups[0], analysis.setups[0], "after", 14 / 15, SPANS)
    assert swap is not None
    return swap


def test_resistance_as_stated() -> None:
    """0.6 m^2 and 1.5 % at 250 kg in air of 1.2 kg/m^3: 0.36 N/(m/s)^2 and 36.8 N."""
    found = resistance_of(Motion(drag_area_m2=0.6, rolling_coefficient=0.015), Conditions(), 250.0)
    assert 250.0 * found.air_per_m == pytest.approx(0.36)
    assert 250.0 * found.rolling_mps2 == pytest.approx(0.015 * 250.0 * 9.80665)
    assumed = usual(250.0)
    assert found.air_sd_per_m < assumed.air_sd_per_m
    assert resistance_of(Motion(), Conditions(), 250.0) == assumed


def test_a_stated_drag_area_counts_in_the_air_of_the_ride() -> None:
    """At 2000 m the standard atmosphere has 1.0066 kg/m^3 (ISO 2533, from memory)."""
    high, usual_air = (
        resistance_of(Motion(drag_area_m2=0.6), conditions, 250.0).air_per_m
        for conditions in (Conditions(altitude_m=2000.0), Conditions())
    )
    assert high / usual_air == pytest.approx(1.0066 / 1.2, abs=2e-4)


def test_a_stated_drag_area_and_wheels_are_used() -> None:
    """The ride coasts, so that it decides between the two with the spread of each: a stated one is moved less."""
    folder, analysis = analysed(False)
    stated_bike = replace(folder.bike, motion=Motion(drag_area_m2=0.9, rotating_kg=30.0))
    found, free = (ridden_thrust(bike, folder.setups[0], analysis.setups[0]) for bike in (stated_bike, folder.bike))
    assert found is not None
    assert free is not None
    area, assumed = (2 * each.mass_kg * float(each.best.air_per_m[0]) / 1.2 for each in (found, free))
    assert assumed == pytest.approx(MACHINE.drag_area_m2, rel=0.15)
    assert assumed < area < 0.95
    assert found.mass_kg * float(found.best.wheels[0]) == pytest.approx(30.0, rel=0.1)
    assert stated(Motion(drag_area_m2=0.9)).drag_from == "coasting"


def test_little_grip_limits_the_thrust_after_the_swap() -> None:
    """0.5 of the weight is less than what was ridden: the tyre then holds what it held, in the launch, and no more."""
    slippery, free = stated(Motion(tyre_grip=0.5)), predicted(False)
    assert slippery.grip_capped
    assert not slippery.lift_capped
    assert not free.grip_capped
    ridden = max(free.reference.thrust[0].thrust_n)
    assert slippery.reference.thrust[0].thrust_n == pytest.approx(free.reference.thrust[0].thrust_n)
    assert ridden < max(slippery.other.thrust[0].thrust_n) < 0.99 * max(free.other.thrust[0].thrust_n)
    assert max(free.other.thrust[0].thrust_n) > 1.05 * ridden
    assert not stated(Motion(tyre_grip=2.0)).grip_capped


def test_the_front_wheel_of_a_published_problem() -> None:
    """h = 0.785 m, wheelbase 1.46 m, b = 0.73 m: 9.1227 m/s^2 with g = 9.81 (exercise 14603095 at uonbi.ac.ke)."""
    assert 9.81 / 9.80665 * lift_acceleration_mps2(0.73, 0.785) == pytest.approx(9.12267515924)
    bike = Bike(balance=Balance(wheelbase_mm=1460.0, cg_height_mm=785.0, cg_to_rear_mm=730.0))
    assert lift_limit_mps2(bike) == pytest.approx(9.12267515924 * 9.80665 / 9.81)
    assert lift_limit_mps2(Bike()) == np.inf


@pytest.mark.parametrize("grip", [0.3, 0.6, 0.9])
def test_grip_against_the_balance_of_moments(grip: float) -> None:
    """Loads from the two balances (sum of loads, moments about the front contact) solved by numpy.linalg."""
    wheelbase, to_rear, height, g = 1.46, 0.73, 0.785, 9.80665
    # Unknown: front load, rear load, acceleration; per unit of mass.
    matrix = np.array([[1.0, 1.0, 0.0], [0.0, wheelbase, -height], [0.0, grip, -1.0]])
    front, rear, pull = np.linalg.solve(matrix, [g, g * (wheelbase - to_rear), 0.0])
    assert front > 0
    assert rear > 0
    assert grip_force_mps2(grip, wheelbase, to_rear, height) == pytest.approx(pull)


def test_grip_without_the_place_of_the_mass_is_that_of_the_whole_weight() -> None:
    assert grip_limit_mps2(Bike(motion=Motion(tyre_grip=0.8))) == pytest.approx(0.8 * 9.80665)
    assert grip_limit_mps2(Bike()) == np.inf
    # Where the front wheel lifts first, the rear tyre carries all.
    light = Balance(wheelbase_mm=1300.0, cg_height_mm=900.0, cg_to_rear_mm=500.0)
    assert grip_limit_mps2(Bike(motion=Motion(tyre_grip=1.5), balance=light)) == pytest.approx(1.5 * 9.80665)
