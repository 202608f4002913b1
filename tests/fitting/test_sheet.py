"""Hand-entered sheets: rows are placed in gears, misread rows found, and what must not matter does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from gearfit.fitting.pairing.material import Sheet
from gearfit.fitting.ratios.levels import difference_covariance
from gearfit.fitting.readings.sheet import Placed, SheetFit, fit_sheets
from gearfit.fitting.setup_fit import fit_setup, gather_setup
from gearfit.fitting.which_gear.ladder import Ladder, from_teeth
from gearfit.fitting.which_gear.numbering import Unplaced, number
from gearfit.machine.bike import FinalDrive, Setup
from gearfit.records.recording import RideSetup
from gearfit.units import MPS_PER_MPH
from tests.simulator.machines import commuter_twin
from tests.simulator.sheets import HandReading, misread, observe_sheet

RATIO = np.array([14.0, 9.6, 7.4, 6.2, 5.4])
CIRCUMFERENCE_M = 2.0
GEAR = np.tile(np.arange(1, 6), 4)
RPM = np.repeat([3000.0, 3500, 4000, 5000], 5)
STEP_MPS = MPS_PER_MPH


#: What the after setup of these tests does to road speeds.
CHANGE = 15 / 16


def sheet(
    seed: int = 0,
    *,
    stated: bool = True,
    factor: float = 1.0,
    held: float = 0.003,
    step_mps: float = STEP_MPS,
    cut: bool = False,
    rpm_step_rpm: float = 1.0,
) -> Sheet:
    """Four readings in each of five gears, read to 1 mph."""
    rng = np.random.default_rng(seed)
    true_rpm = RPM * (1 + held * rng.standard_normal(RPM.size)) + rpm_step_rpm * rng.uniform(-0.5, 0.5, RPM.size)
    steps = factor * true_rpm * CIRCUMFERENCE_M / (60 * RATIO[GEAR - 1]) / step_mps
    return written(step_mps * (np.floor(steps) if cut else np.round(steps)), RPM, step_mps, rpm_step_rpm, stated=stated)


def written(
    speed_mps: np.ndarray, rpm: np.ndarray, step_mps: float, rpm_step_rpm: float, *, stated: bool = True
) -> Sheet:
    n = speed_mps.size
    return Sheet(
        rows=np.arange(n),
        speed_mps=speed_mps,
        speed_sd_mps=np.full(n, step_mps / np.sqrt(12)),
        engine_rpm=rpm,
        rpm_sd_rpm=np.full(n, rpm_step_rpm / np.sqrt(12)),
        stated_gear=GEAR.astype(float) if stated else np.full(n, np.nan),
        speed_step_mps=np.full(n, step_mps),
        rpm_step_rpm=np.full(n, rpm_step_rpm),
    )


LADDER = Ladder(np.log(RATIO), float(np.log(60 / CIRCUMFERENCE_M)), 0.036, "tooth counts")


def fit(*sheets: Sheet, ladder: Ladder | None = None) -> list[SheetFit]:
    """Number the rows that have no gear, and fit the sheets of all setups together."""
    numbers = number(
        [
            Unplaced(
                log_ratio=np.log(s.engine_rpm / s.speed_mps),
                sd=np.hypot(s.speed_sd_mps / s.speed_mps, s.rpm_sd_rpm / s.engine_rpm),
                gear=np.nan_to_num(s.stated_gear).astype(np.int64),
                ladder=None if ladder is None else ladder.log_ratio,
                expected=None if ladder is None else ladder.expected_shift,
                log_change=None,
            )
            for s in sheets
        ]
    )
    none = np.zeros(RPM.size, dtype=bool)
    return fit_sheets(
        [Placed(s, none[: s.rows.size], n.gear, ladder, None) for s, n in zip(sheets, numbers, strict=True)]
    )


def at(one: Sheet, rows: np.ndarray) -> Sheet:
    return Sheet(**{name: values[rows] for name, values in vars(one).items()})


def in_order(found: SheetFit) -> np.ndarray:
    assert found.levels is not None
    return found.levels.log_ratio


def pulls(found: SheetFit, gears: int = 5) -> np.ndarray:
    """Levels less true ones, over their standard errors."""
    assert found.levels is not None
    true = np.log(RATIO * 60 / CIRCUMFERENCE_M)[:gears]
    return np.asarray((found.levels.log_ratio - true) / np.sqrt(np.diag(found.levels.covariance)))


def test_levels_of_a_clean_sheet() -> None:
    (found,) = fit(sheet())
    assert found.levels is not None
    assert found.levels.gear.tolist() == [1, 2, 3, 4, 5]
    assert found.levels.passages.tolist() == [4] * 5
    assert np.all(np.abs(pulls(found)) < 3)
    assert found.odd == ()
    assert found.used.all()


@pytest.mark.parametrize("ladder", [None, LADDER], ids=["gaps", "tooth counts"])
def test_rows_without_a_gear_are_grouped(ladder: Ladder | None) -> None:
    (found,) = fit(sheet(stated=False), ladder=ladder)
    assert found.gear.tolist() == GEAR.tolist()
    assert found.used.all()


def test_rows_without_a_gear_take_those_of_a_setup_that_noted_them() -> None:
    """A row of after that no gear explains has none, and is not used."""
    after = sheet(1, stated=False, factor=CHANGE)
    after.speed_mps[7] *= 1.12
    before, found = fit(sheet(), after)
    assert before.gear.tolist() == GEAR.tolist()
    others = np.arange(20) != 7
    assert found.gear[others].tolist() == GEAR[others].tolist()
    assert found.gear[7] == 0, "12 % above third gear and 12 % below second there is none"
    assert found.used.tolist() == others.tolist()


@pytest.mark.parametrize("row", [3, 11, 19])
@pytest.mark.parametrize("by_mph", [6, -6])
def test_a_misread_row_is_found_and_set_aside(row: int, by_mph: int) -> None:
    clean = sheet()
    speed = clean.speed_mps.copy()
    speed[row] += by_mph * MPS_PER_MPH
    found, _ = fit(replace(clean, speed_mps=speed), sheet(1, factor=CHANGE))
    (odd,) = found.odd
    assert odd.position == row
    assert not found.used[row]
    assert RPM[row] / np.exp(odd.expected_log_ratio) == pytest.approx(clean.speed_mps[row], abs=MPS_PER_MPH)
    expected, _ = fit(at(clean, np.arange(20) != row), sheet(1, factor=CHANGE))
    assert in_order(found) == pytest.approx(in_order(expected), abs=1e-3)


def test_good_rows_are_rarely_accused() -> None:
    """In 1 % of 150 sheets one row may be: binomial law, beyond 1 in 1000."""
    assert sum(len(fit(sheet(seed))[0].odd) > 0 for seed in range(150)) <= 6


def test_shuffled_rows_change_nothing() -> None:
    one, order = sheet(), np.random.default_rng(1).permutation(20)
    for ladder in (None, LADDER):
        (a,), (b,) = fit(one, ladder=ladder), fit(at(one, order), ladder=ladder)
        assert in_order(a) == pytest.approx(in_order(b), rel=1e-9)
        assert a.gear[order].tolist() == b.gear.tolist()


def test_doubled_speeds_double_the_circumference() -> None:
    """One reading a gear, read finely: with several, a display's error in m/s weighs fast ones more than slow ones."""
    one = at(sheet(step_mps=0.01), np.arange(15, 20))
    a, b = fit(one)[0], fit(replace(one, speed_mps=2 * one.speed_mps, speed_sd_mps=2 * one.speed_sd_mps))[0]
    assert in_order(a) - in_order(b) == pytest.approx(np.full(5, np.log(2)), rel=1e-12)


def test_an_empty_sheet() -> None:
    none = at(sheet(), np.zeros(0, dtype=np.int64))
    (found,) = fit(none)
    assert (found.levels, found.odd, found.scatter) == (None, (), None)
    beside, found = fit(sheet(), none)
    assert found.levels is None
    assert in_order(beside) == pytest.approx(in_order(fit(sheet())[0]))


def test_one_row() -> None:
    """Alone it tells its gear, only as well as any rider may have held it."""
    (found,) = fit(at(sheet(), np.array([0])))
    assert found.levels is not None
    assert found.levels.gear.tolist() == [1]
    half = stats.t.ppf(0.975, found.levels.dof) * np.sqrt(found.levels.covariance[0, 0])
    assert half > 0.05


@pytest.mark.parametrize("held", [0.003, 0.02])
def test_two_sheets_tell_the_scatter_and_the_change(held: float) -> None:
    """Over 30 pairs of sheets: the scatter about right, nine of ten intervals of the change at least hold it."""
    inside, scatter = [], []
    for seed in range(30):
        before, after = fit(sheet(seed, held=held), sheet(1000 + seed, held=held, factor=CHANGE))
        one, other = before.levels, after.levels
        assert before.scatter is not None
        scatter.append(before.scatter)
        assert one is not None
        assert other is not None
        se = np.sqrt(np.diag(difference_covariance(one, other, np.arange(5), np.arange(5))))
        off = np.abs(one.log_ratio - other.log_ratio - np.log(CHANGE))
        inside.append(off < stats.t.ppf(0.975, one.dof) * se)
    assert np.mean(inside) > 0.9
    assert float(np.median(scatter)) == pytest.approx(held, rel=0.35)


@pytest.mark.parametrize(("ladder", "cut"), [(LADDER, 1), (None, 4)], ids=["all, teeth known", "one in four, unknown"])
def test_cut_speeds_are_found_or_counted_in(ladder: Ladder | None, cut: int) -> None:
    """Half a mile an hour is 6 % of the slowest reading: nine of ten intervals hold the truth all the same.

    Where teeth are known they tell cut from rounded; where not, intervals hold as often as said of displays of which as
    many cut as is supposed.
    """
    inside, moved = [], []
    for seed in range(24):
        how = seed % cut == 0
        before, after = fit(sheet(seed, cut=how), sheet(1000 + seed, cut=how, factor=CHANGE), ladder=ladder)
        one, other = before.levels, after.levels
        assert one is not None
        assert other is not None
        limit = stats.t.ppf(0.975, one.dof)
        inside.append(np.abs(pulls(before)) < limit)
        se = np.sqrt(np.diag(difference_covariance(one, other, np.arange(5), np.arange(5))))
        moved.append(np.abs(one.log_ratio - other.log_ratio - np.log(CHANGE)) < limit * se)
    assert np.mean(inside) > 0.9
    assert np.mean(moved) > 0.9


def test_speeds_held_at_multiples_of_five_were_not_read_to_five() -> None:
    """The rider holds whole fives and reads the engine speed: readings within 0.3 % are no display of five."""
    rng = np.random.default_rng(4)
    five = 5 * MPS_PER_MPH
    target = five * np.repeat([3.0, 4, 5, 6], 5) + five * (GEAR // 2)
    rpm = target * 60 * RATIO[GEAR - 1] / CIRCUMFERENCE_M * (1 + 0.003 * rng.standard_normal(20))
    (found,) = fit(written(target, 50 * np.round(rpm / 50), five, 50.0))
    assert found.levels is not None
    assert np.all(np.sqrt(np.diag(found.levels.covariance)) < 0.015)
    assert np.all(np.abs(pulls(found)) < 3)


def test_a_tachometer_read_to_a_hundred() -> None:
    """A common error of its steps stays in every level, and goes from the change."""
    one, other = (
        found.levels for found in fit(sheet(2, rpm_step_rpm=100.0), sheet(3, rpm_step_rpm=100.0, factor=CHANGE))
    )
    assert one is not None
    assert other is not None
    both = np.arange(5)
    change = np.sqrt(np.diag(difference_covariance(one, other, both, both)))
    alone = np.sqrt(np.diag(one.covariance) + np.diag(other.covariance))
    assert np.all(change < 0.95 * alone)
    assert np.all(np.abs(one.log_ratio - other.log_ratio - np.log(CHANGE)) < 3 * change)


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


def test_the_same_number_read_again_says_nothing_new_of_reading() -> None:
    """Rounded alike three times: the error of rounding does not average out, whatever the lack of scatter."""
    once = at(sheet(), np.arange(15, 20))
    one, three = fit(once)[0].levels, fit(at(once, np.tile(np.arange(5), 3)))[0].levels
    assert one is not None
    assert three is not None
    assert three.log_ratio == pytest.approx(one.log_ratio)
    rounding = STEP_MPS / np.sqrt(12) / once.speed_mps
    assert np.all(np.sqrt(np.diag(three.covariance)) >= rounding)


@pytest.mark.parametrize("held_sd_rpm", [0.0, 25.0])
def test_intervals_of_a_sheet_hold_the_truth(held_sd_rpm: float) -> None:
    """Of 60 simulated sheets, three rounds at one engine speed read to 1 mph, at least 90 % of the intervals do."""
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
        half = stats.t.ppf(0.975, levels.dof) * np.sqrt(np.diag(levels.covariance))
        held.append(np.abs(levels.log_ratio - true) < half)
    assert np.mean(held) > 0.9
