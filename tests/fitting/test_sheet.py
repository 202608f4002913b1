"""Hand-entered sheets: rows are placed in gears, misread rows found, and what must not matter does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.bike import FinalDrive, Setup
from gearfit.fitting.ladder import Ladder, from_teeth
from gearfit.fitting.setup_fit import fit_setup, gather_setup
from gearfit.fitting.sheet import SheetFit, fit_sheet
from gearfit.fitting.streams import Sheet
from gearfit.recording import RideSetup
from gearfit.simulation.machines import commuter_twin
from gearfit.simulation.sheets import HandReading, misread, observe_sheet
from gearfit.units import MPS_PER_MPH

RATIO = np.array([14.0, 9.6, 7.4, 6.2, 5.4])
CIRCUMFERENCE_M = 2.0
GEAR = np.tile(np.arange(1, 6), 4)
RPM = np.repeat([3000.0, 3500, 4000, 5000], 5)
STEP_MPS = MPS_PER_MPH


def sheet(seed: int = 0, *, stated: bool = True) -> Sheet:
    """Four readings in each of five gears, read to 1 mph."""
    rng = np.random.default_rng(seed)
    true_rpm = RPM * (1 + 0.003 * rng.standard_normal(RPM.size))
    speed = true_rpm * CIRCUMFERENCE_M / (60 * RATIO[GEAR - 1])
    n = RPM.size
    return Sheet(
        rows=np.arange(n),
        speed_mps=STEP_MPS * np.round(speed / STEP_MPS),
        speed_sd_mps=np.full(n, STEP_MPS / np.sqrt(12)),
        engine_rpm=RPM,
        rpm_sd_rpm=0.004 * RPM,
        stated_gear=GEAR.astype(float) if stated else np.full(n, np.nan),
    )


LADDER = Ladder(np.log(RATIO), float(np.log(60 / CIRCUMFERENCE_M)), 0.036, "tooth counts")


def in_order(found: SheetFit) -> np.ndarray:
    assert found.levels is not None
    return found.levels.log_ratio


def test_levels_of_a_clean_sheet() -> None:
    found = fit_sheet(sheet(), None, None)
    assert found.levels is not None
    assert found.levels.gear.tolist() == [1, 2, 3, 4, 5]
    assert found.levels.passages.tolist() == [4] * 5
    z = (found.levels.log_ratio - np.log(RATIO * 60 / CIRCUMFERENCE_M)) / np.sqrt(np.diag(found.levels.covariance))
    assert np.all(np.abs(z) < 3)
    assert found.odd == ()
    assert found.used.all()


@pytest.mark.parametrize("ladder", [None, LADDER], ids=["gaps", "tooth counts"])
def test_rows_without_a_gear_are_grouped(ladder: Ladder | None) -> None:
    assert fit_sheet(sheet(stated=False), ladder, None).gear.tolist() == GEAR.tolist()


def test_rows_without_a_gear_beside_a_ride_that_showed_the_gears() -> None:
    centres = np.log(RATIO * 60 / CIRCUMFERENCE_M)
    readings = sheet(stated=False)
    assert fit_sheet(readings, None, centres).gear.tolist() == GEAR.tolist()
    stray = replace(readings, speed_mps=readings.speed_mps * np.where(np.arange(20) == 7, 1.09, 1.0))
    found = fit_sheet(stray, None, centres)
    assert found.gear[7] == 0, "between third and fourth gear there is none"
    assert not found.used[7]


@pytest.mark.parametrize("row", [3, 11, 19])
@pytest.mark.parametrize("by_mph", [6, -6])
def test_a_misread_row_is_found_and_set_aside(row: int, by_mph: int) -> None:
    clean = sheet()
    speed = clean.speed_mps.copy()
    speed[row] += by_mph * MPS_PER_MPH
    found = fit_sheet(replace(clean, speed_mps=speed), None, None)
    (odd,) = found.odd
    assert odd.position == row
    assert not found.used[row]
    assert RPM[row] / np.exp(odd.expected_log_ratio) == pytest.approx(clean.speed_mps[row], abs=MPS_PER_MPH)
    others = (GEAR[row] == GEAR) & (np.arange(20) != row)
    expected = fit_sheet(replace(clean, **{k: getattr(clean, k)[others] for k in vars(clean)}), None, None)
    assert in_order(found)[GEAR[row] - 1] == pytest.approx(in_order(expected)[0], abs=1e-3)


def test_good_rows_are_rarely_accused() -> None:
    """In 1 % of 300 sheets one row may be: binomial law, beyond 1 in 1000."""
    assert sum(len(fit_sheet(sheet(seed), None, None).odd) > 0 for seed in range(300)) <= 9


def test_shuffled_rows_change_nothing() -> None:
    one = sheet()
    order = np.random.default_rng(1).permutation(20)
    shuffled = replace(one, **{name: values[order] for name, values in vars(one).items()})
    for ladder in (None, LADDER):
        a, b = fit_sheet(one, ladder, None), fit_sheet(shuffled, ladder, None)
        assert in_order(a) == pytest.approx(in_order(b), rel=1e-12)
        assert a.gear[order].tolist() == b.gear.tolist()


def test_doubled_speeds_double_the_circumference() -> None:
    one = sheet()
    twice = replace(one, speed_mps=2 * one.speed_mps, speed_sd_mps=2 * one.speed_sd_mps)
    a, b = fit_sheet(one, None, None), fit_sheet(twice, None, None)
    assert in_order(a) - in_order(b) == pytest.approx(np.log(2))


def test_an_empty_sheet() -> None:
    none = np.empty(0)
    found = fit_sheet(Sheet(np.empty(0, dtype=np.int64), none, none, none, none, none), None, None)
    assert (found.levels, found.odd) == (None, ())


def test_one_row() -> None:
    one = {name: values[:1] for name, values in vars(sheet()).items()}
    found = fit_sheet(replace(sheet(), **one), None, None)
    assert found.levels is not None
    assert found.levels.gear.tolist() == [1]


def test_a_simulated_sheet_with_a_misread_row() -> None:
    """The whole way of a setup: rows of the invented commuter, one of them 10 mph off."""
    machine = commuter_twin()
    plan = [(gear, rpm) for rpm in (4000.0, 5000.0, 4500.0) for gear in range(1, 7)]
    recording = misread(observe_sheet(machine, plan, np.random.default_rng(7)), 9, 10 * MPS_PER_MPH)
    setup = machine.bike.setup("before")
    material = gather_setup(RideSetup(setup, (recording,)))
    found = fit_setup(material, from_teeth(machine.bike, setup))
    assert [odd.position for odd in found.sheet.odd] == [9]
    assert found.levels is not None
    true = np.log([1000 / machine.speed_per_1000rpm_mps(gear) for gear in range(1, 7)])
    assert np.all(np.abs(found.levels.log_ratio - true) < 3 * np.sqrt(np.diag(found.levels.covariance)))


def test_the_ladder_takes_the_sprockets_as_stated() -> None:
    """A setup with a sprocket twice as large has ln ratios lower by ln 2."""
    bike = commuter_twin().bike
    small = from_teeth(bike, Setup("a", FinalDrive(front=15, rear=45), bike.tyre))
    large = from_teeth(bike, Setup("b", FinalDrive(front=30, rear=45), bike.tyre))
    assert small is not None
    assert large is not None
    assert small.log_ratio - large.log_ratio == pytest.approx(np.log(2))


def test_the_same_number_read_again_says_nothing_new() -> None:
    """Rounded alike three times: the error of rounding does not average out, whatever the lack of scatter."""
    once = {name: values[15:] for name, values in vars(sheet()).items()}
    thrice = {name: np.tile(values, 3) for name, values in once.items()}
    one = fit_sheet(replace(sheet(), **once), None, None).levels
    three = fit_sheet(replace(sheet(), **thrice), None, None).levels
    assert one is not None
    assert three is not None
    assert three.log_ratio == pytest.approx(one.log_ratio)
    assert three.covariance == pytest.approx(one.covariance)


@pytest.mark.parametrize("held_sd_rpm", [0.0, 25.0])
def test_intervals_of_a_sheet_hold_the_truth(held_sd_rpm: float) -> None:
    """Of 60 simulated sheets, three rounds at one engine speed read to 1 mph, at least 90 % of the intervals do."""
    from scipy.stats import t

    machine = commuter_twin()
    plan = [(gear, 4500.0) for _ in range(3) for gear in range(1, 7)]
    true = np.log([1000 / machine.speed_per_1000rpm_mps(gear) for gear in range(1, 7)])
    setup = machine.bike.setup("before")
    how = HandReading(held_sd_rpm=held_sd_rpm, receiver_sd_mps=0.02)
    held = []
    for seed in range(60):
        recording = observe_sheet(machine, plan, np.random.default_rng(seed), reading=how)
        levels = fit_setup(gather_setup(RideSetup(setup, (recording,))), from_teeth(machine.bike, setup)).levels
        assert levels is not None
        half = t.ppf(0.975, levels.dof) * np.sqrt(np.diag(levels.covariance))
        held.append(np.abs(levels.log_ratio - true) < half)
    assert np.mean(held) > 0.9
