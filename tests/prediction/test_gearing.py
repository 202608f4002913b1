"""Speed and engine speed from gearing, against regulations and textbooks."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gearfit.machine.bike import Bike, FinalDrive, Gearbox, Setup, Tyre
from gearfit.prediction.gearing import change_percent, engine_rpm, speed_mps, speed_per_1000rpm_mps, step_ratios

positive = st.floats(0.1, 100)


# UN GTR 15, Annex 7, paragraph 8: (n/v) = r_i r_axle 60000 / (U_dyn 3.6). Total ratio 1 and U_dyn = 1935 mm give
# 8.6132644 rev/min per km/h (our arithmetic on its formula).
def test_un_gtr_15() -> None:
    assert engine_rpm(1 / 3.6, 1.935, 1.0) == pytest.approx(8.6132644, rel=1e-8)
    assert 1 / (3.6 * speed_per_1000rpm_mps(1.935, 1.0) / 1000) == pytest.approx(8.6132644, rel=1e-8)


# French arrêté of 27 March 1979, article 2: V = 0.06 D n R; D = 2.0 m, n = 5000, R = 1/12 is 50 km/h (our arithmetic).
def test_french_arrete_of_1979() -> None:
    assert 3.6 * speed_mps(5000, 2.0, 12) == pytest.approx(0.06 * 2.0 * 5000 / 12)
    assert 3.6 * speed_mps(5000, 2.0, 12) == pytest.approx(50.0)


# R. K. Rajput, Internal Combustion Engines, example 17.21: tyre 0.65 m, engine : axle = 39 : 8, 48 km/h; the wheel
# turns 391.8 and the engine 1909.9 times a minute.
def test_rajput_example_17_21() -> None:
    circumference_m = 0.65 * math.pi
    assert engine_rpm(48 / 3.6, circumference_m, 1) == pytest.approx(391.8, abs=0.05)
    assert engine_rpm(48 / 3.6, circumference_m, 39 / 8) == pytest.approx(1909.9, abs=0.05)


# Jindal, Machine Design, chapter 29, gearbox tooth counts: (50 x 47)/(20 x 23) = 5.109 and (37 x 47)/(33 x 23) = 2.291.
def test_jindal_chapter_29() -> None:
    bike = Bike(gearbox=Gearbox(47 / 23, (50 / 20, 37 / 33)))
    ratios = bike.overall_ratios(Setup("", FinalDrive(front=20, rear=20)))
    assert ratios == pytest.approx((5.109, 2.291), abs=5e-4)


# A consumer's guide to gearing: an overall ratio of 6.423 turns the wheel 622.76 times a minute at 4000 rev/min.
def test_published_wheel_speed() -> None:
    assert 60 * speed_mps(4000, 1.0, 6.423) == pytest.approx(622.76, abs=5e-3)


# Common practice, no source: one tooth off a 16-tooth front sprocket takes 1-2 mph at about 30 mph in first and about
# 5 mph at about 75 mph in sixth, both at the same engine speed.
def test_one_tooth_off_sixteen_is_a_factor_not_a_number_of_mph() -> None:
    change = change_percent(Setup("", FinalDrive(front=16, rear=43)), Setup("", FinalDrive(front=15, rear=43)))
    assert change == pytest.approx(-6.25)
    assert change is not None
    assert 1 <= -change / 100 * 30 <= 2
    assert -change / 100 * 75 == pytest.approx(5, abs=0.5)


@pytest.mark.parametrize(
    ("reference", "other", "expected"),
    [
        (FinalDrive(front=14, rear=43), FinalDrive(front=14, rear=43), 0.0),
        (FinalDrive(front=14, rear=43), FinalDrive(front=14, rear=45), 100 * (43 / 45 - 1)),
        (FinalDrive(front=14, rear=43), FinalDrive(front=15, rear=43), 100 / 14),
        (FinalDrive(front=14, rear=42), FinalDrive(front=15, rear=45), 0.0),
        (FinalDrive(front=14), FinalDrive(front=13), None),
        (FinalDrive(front=14, rear=43), FinalDrive(rear=43), None),
    ],
)
def test_change_from_teeth(reference: FinalDrive, other: FinalDrive, expected: float | None) -> None:
    change = change_percent(Setup("before", reference), Setup("after", other))
    assert change == (None if expected is None else pytest.approx(expected, abs=1e-12))


@pytest.mark.parametrize(
    ("reference", "other", "factor"),
    [
        (Tyre(), Tyre("140/70-17"), 1.0),
        (Tyre(rolling_circumference_mm=1950), Tyre(), 1.0),
        (Tyre(rolling_circumference_mm=1950), Tyre(rolling_circumference_mm=1911), 0.98),
        (Tyre("140/70-17"), Tyre("130/80-17"), 639.8 / 627.8),
        # measured for one of them only: both from the size code, whose common error then cancels
        (Tyre("140/70-17", 1900), Tyre("130/80-17"), 639.8 / 627.8),
        (Tyre("140/70-17", 1900), Tyre("130/80-17", 1938), 1.02),
        (Tyre("140/70-17", 1950), Tyre(rolling_circumference_mm=1911), 0.98),
    ],
)
def test_change_from_tyres(reference: Tyre, other: Tyre, factor: float) -> None:
    drive = FinalDrive(front=15, rear=45)
    change = change_percent(Setup("before", drive, reference), Setup("after", drive, other))
    assert change == pytest.approx(100 * (factor - 1), abs=1e-9)


@given(rpm=st.floats(500, 15000), circumference_m=st.floats(0.5, 3), ratio=st.floats(2, 30))
def test_engine_rpm_is_the_inverse_of_speed(rpm: float, circumference_m: float, ratio: float) -> None:
    assert engine_rpm(speed_mps(rpm, circumference_m, ratio), circumference_m, ratio) == pytest.approx(rpm)


@given(ratios=st.lists(positive, min_size=1, max_size=8), factor=positive)
def test_step_ratios_do_not_know_the_final_drive(ratios: list[float], factor: float) -> None:
    steps = step_ratios(ratios)
    assert len(steps) == len(ratios) - 1
    assert step_ratios([factor * ratio for ratio in ratios]) == pytest.approx(steps)
    assert math.prod(steps) == pytest.approx(ratios[0] / ratios[-1])


@pytest.mark.parametrize("ratio", [12.0, 8.0, 6.0])
def test_speed_is_proportional_to_engine_speed(ratio: float) -> None:
    assert speed_mps(2000, 2.0, ratio) == pytest.approx(2000 * 2.0 / (60 * ratio))
    assert speed_mps(4000, 2.0, ratio) == pytest.approx(2 * speed_mps(2000, 2.0, ratio))


def test_doubled_circumference_doubles_speed_and_the_setups_change_is_that_of_the_speeds() -> None:
    bike = Bike(gearbox=Gearbox(2.96, (2.7, 1.8, 1.4)))
    before, after = (Setup("", FinalDrive(front=front, rear=43)) for front in (14, 13))
    pairs = list(zip(bike.overall_ratios(before) or (), bike.overall_ratios(after) or (), strict=True))
    assert len(pairs) == 3
    for ratios in pairs:
        speeds = [speed_mps(5000, 1.95, ratio) for ratio in ratios]
        assert speed_mps(5000, 3.9, ratios[0]) == pytest.approx(2 * speeds[0])
        assert 100 * (speeds[1] / speeds[0] - 1) == pytest.approx(change_percent(before, after))
