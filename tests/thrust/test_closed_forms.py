"""The equation of motion against closed forms and published figures."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from gearfit.thrust.clock import clock
from gearfit.thrust.curve import RpmCurve
from gearfit.thrust.machine import Machine, lever_per_m
from gearfit.thrust.resistance import after_coasting_mps, coasting_time_s, usual
from gearfit.thrust.run import Launch, Rule, first_time_s, through_the_gears

FloatArray = NDArray[np.float64]
TARGET_MPS = 100 / 3.6


def constant_thrust(v: FloatArray) -> FloatArray:
    return np.full((1, v.size), 600.0 / 250.0)


def constant_power(v: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore"):
        return (30_000.0 / 250.0 / v)[None, :]


def quadratic_drag(v: FloatArray) -> FloatArray:
    return (4.0 * (1 - (v / 40.0) ** 2))[None, :]


@pytest.mark.parametrize(
    ("acceleration", "expected_s"),
    [
        # t = v m / F
        (constant_thrust, TARGET_MPS * 250.0 / 600.0),
        # t = m v^2 / (2 P)
        (constant_power, 250.0 * TARGET_MPS**2 / (2 * 30_000.0)),
        # v = v_top tanh(a0 t / v_top)
        (quadratic_drag, 40.0 / 4.0 * math.atanh(TARGET_MPS / 40.0)),
    ],
)
def test_time_to_a_speed(acceleration: Callable[[FloatArray], FloatArray], expected_s: float) -> None:
    found = clock(acceleration, 60.0).at(np.array([TARGET_MPS]))
    assert found[0] == pytest.approx(expected_s, abs=1e-6)


def test_the_drag_limited_speed_is_never_reached() -> None:
    table = clock(quadratic_drag, 60.0)
    assert np.isfinite(table.at(np.array([39.8]))[0])
    assert table.at(np.array([40.1]))[0] == math.inf


#: 40 CFR 86.529-98, Figure F98-9: mass kg, A N, C N/(km/h)^2, time from 70 to 60 km/h in s (160 kg left out: misprint).
COAST_DOWN = [
    (100, 0.00, 0.0224, 2.95),
    (150, 4.32, 0.0238, 3.99),
    (200, 8.69, 0.0252, 4.85),
    (230, 11.31, 0.0260, 5.30),
    (250, 13.06, 0.0266, 5.57),
    (300, 17.43, 0.0279, 6.18),
    (340, 20.92, 0.0290, 6.60),
]


@pytest.mark.parametrize(("mass_kg", "rolling_n", "air", "printed_s"), COAST_DOWN)
def test_coast_down_table(mass_kg: float, rolling_n: float, air: float, printed_s: float) -> None:
    found = coasting_time_s(70 / 3.6, 60 / 3.6, rolling_n / mass_kg, air * 3.6**2 / mass_kg)
    # Printed to 0.01 s from coefficients of three figures.
    assert found == pytest.approx(printed_s, abs=0.012)


@pytest.mark.parametrize(("mass_kg", "air"), [(row[0], row[2]) for row in COAST_DOWN])
def test_assumed_drag_is_that_of_the_table(mass_kg: float, air: float) -> None:
    # Two figures of C decide; it grows evenly with mass.
    assert usual(mass_kg).air_per_m * mass_kg / 3.6**2 == pytest.approx(air, abs=1.1e-4)


def test_coasting_step_against_the_integral() -> None:
    rolling, air = 0.16, 0.0015
    slowed = after_coasting_mps(np.array([30.0]), np.array([rolling]), np.array([air]), np.array([0.8]))
    assert coasting_time_s(30.0, float(slowed[0]), rolling, air) == pytest.approx(0.8, abs=1e-7)


@pytest.mark.parametrize("numbers", [(10.0, 20.0, 0.1, 0.1), (20.0, 10.0, 0.0, 0.0), (20.0, 10.0, -0.1, 0.1)])
def test_no_coasting_without_resistance_or_the_wrong_way(numbers: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError) as caught:
        coasting_time_s(*numbers)
    assert str(caught.value) == "coasting needs a resistance and a speed to slow down to"


def test_rotating_mass_of_a_textbook_example() -> None:
    """Bevan, Theory of Machines, ch. 2: F = 29.5 eta G lbf, Me = 1648 + 4.54 eta G^2 lb, a = 32.2 F / Me ft/s^2."""
    printed = {22.5: 4.96, 12.5: 4.37, 7.3: 3.08, 5.4: 2.61}
    for gear_ratio, expected in printed.items():
        efficiency = 0.90 if gear_ratio == 5.4 else 0.82
        # In our terms: lever G per m, torque over mass and the engine's share j from the example's own constants.
        torque = 32.2 * 29.5 * efficiency / 1648
        machine = flat_machine((2 * math.pi / 60 / gear_ratio,), torque, engine_m2=4.54 * efficiency / 1648)
        found = machine.acceleration_mps2(1, np.array([20.0]))[0, 0]
        assert found == pytest.approx(expected, abs=0.006)


def flat_machine(
    per_rpm: tuple[float, ...], torque: float, *, engine_m2: float = 0.0, rolling: float = 0.0, air: float = 0.0
) -> Machine:
    curve = RpmCurve(1000.0, 9000.0, 4)
    one = np.ones(1)
    return Machine(
        per_rpm,
        curve,
        np.full((1, curve.size), torque),
        rolling * one,
        air * one,
        0.0 * one,
        engine_m2 * one,
        np.inf * one,
        1e9,
    )


def test_a_run_against_the_differential_equation() -> None:
    """The same run by `scipy.integrate.solve_ivp`, gear by gear, with the events that end each."""
    machine = flat_machine((0.0020, 0.0030, 0.0040), 0.0, engine_m2=4e-5, rolling=0.16, air=0.0015)
    shape = np.array([0.06, 0.075, 0.09, 0.1, 0.1, 0.095, 0.08])
    machine = Machine(**{**vars(machine), "torque_per_kg": shape[None, :], "limit_rpm": 9500.0})
    rule = Rule(np.full((1, 3), 8000.0), np.array([0.3]))
    launch = Launch(np.array([4000.0]), np.array([5.0]))
    clocks = machine.clocks(40.0)
    way = through_the_gears(machine, clocks, rule, launch, 1.0)
    found, gear = first_time_s(way, clocks, 27.0)
    time, speed = float(way.begin_s[0, 0]), 4000.0 * 0.0020
    for number, end in ((1, 16.0), (2, 24.0), (3, 27.0)):

        def reached(_t: float, v: FloatArray, end: float = end) -> float:
            return float(v[0] - end)

        def rate(_t: float, v: FloatArray, number: int = number) -> FloatArray:
            found: FloatArray = machine.acceleration_mps2(number, v)[0]
            return found

        reached.terminal = True  # type: ignore[attr-defined]
        solved = solve_ivp(rate, (0, 60), [speed], events=reached, rtol=1e-10, atol=1e-10)
        assert solved.t_events is not None
        time += float(solved.t_events[0][0])
        if number < 3:
            coasted = solve_ivp(lambda _t, v: -(0.16 + 0.0015 * v**2), (0, 0.3), [end], rtol=1e-10, atol=1e-10)
            speed, time = float(coasted.y[0, -1]), time + 0.3
    assert gear[0] == 3
    assert found[0] == pytest.approx(time, abs=1e-6)


def test_the_lever_is_engine_angle_over_way() -> None:
    # 10 m/s at 6000 rev/min: 628.3 rad in 10 m.
    assert lever_per_m(10 / 6000) == pytest.approx(62.83185, abs=1e-5)


def test_a_gear_that_is_held_to_the_limit_ends_just_below_it() -> None:
    """Constant thrust: the last step of 0.125 m/s below the limit is left out, and nothing else."""
    machine = flat_machine((0.0013, 0.0020), 4.0 / lever_per_m(0.0013))
    machine = Machine(**{**vars(machine), "limit_rpm": 9500.0})
    rule = Rule(np.full((1, 2), 9500.0), np.array([0.3]))
    way = through_the_gears(machine, machine.clocks(30.0), rule, Launch(np.array([4000.0]), np.array([4.0])), 1.0)
    assert 0 <= 0.0013 * 9500.0 - way.end_mps[0, 0] < 0.125
    assert way.end_s[0, 0] == pytest.approx(way.end_mps[0, 0] / 4.0, abs=1e-6)
