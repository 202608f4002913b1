"""A ladder of tooth counts laid over samples: the common shift is found, or said to be uncertain."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from gearfit.fitting.which_gear.known_ladder import LadderFit, fit_shift
from gearfit.fitting.which_gear.ladder import from_teeth
from gearfit.machine.bike import Bike, FinalDrive, Gearbox, Setup, Tyre

FloatArray = NDArray[np.float64]

LADDER = np.log([15.2, 10.4, 8.0, 6.5, 5.6, 5.0])
#: Upper steps of one size: laid one gear off, five of six gears fit as well.
EVEN = np.log(16.0) - 0.12 * np.arange(6)
SHIFT = float(np.log(60 / 1.95))
SD = 0.006


def samples(
    ladder: FloatArray, gears: list[int], shift: float, seed: int = 0, each: int = 40, strays_per_10: int = 1
) -> FloatArray:
    """Return ln ratios in some gears, and in none beside them."""
    rng = np.random.default_rng(seed)
    level = np.repeat(ladder[np.array(gears) - 1], each)
    strays = rng.uniform(ladder.min() - 0.3, ladder.max() + 0.3, level.size * strays_per_10 // 10)
    return np.concatenate([level + SD * rng.standard_normal(level.size), strays]) + shift


def fitted(values: FloatArray, ladder: FloatArray, expected: float | None) -> LadderFit:
    return fit_shift(values, np.full(values.size, SD), np.ones(values.size), ladder, expected)


@given(st.floats(-0.08, 0.08), st.integers(0, 100))
@settings(max_examples=30, deadline=None)
def test_shift_near_what_tyre_and_teeth_say(off: float, seed: int) -> None:
    found = fitted(samples(LADDER, [1, 2, 3, 4, 5, 6], SHIFT + off, seed), LADDER, SHIFT)
    assert found.shift == pytest.approx(SHIFT + off, abs=0.003)


@given(st.floats(1.0, 5.0), st.integers(0, 100))
@settings(max_examples=30, deadline=None)
def test_shift_of_which_nothing_is_known(shift: float, seed: int) -> None:
    """Without final drive and tyre the shift may be anything."""
    found = fitted(samples(LADDER, [1, 2, 3, 4, 5, 6], shift, seed), LADDER, None)
    assert found.shift == pytest.approx(shift, abs=0.003)


@pytest.mark.parametrize("expected", [SHIFT, SHIFT + 0.05, None])
def test_only_the_upper_gears_ridden(expected: float | None) -> None:
    found = fitted(samples(LADDER, [3, 4, 5, 6], SHIFT), LADDER, expected)
    assert found.shift == pytest.approx(SHIFT, abs=0.003)


def test_what_is_known_decides_where_two_shifts_fit() -> None:
    """Gears 2 to 5 of an even ladder are as well 3 to 6 or 1 to 4; the tyre says which."""
    values = samples(EVEN, [2, 3, 4, 5], SHIFT)
    for off in (-0.12, 0.0, 0.12):
        assert fitted(values, EVEN, SHIFT + off).shift == pytest.approx(SHIFT + off, abs=0.003)
    blind = fitted(samples(EVEN, [2, 3, 4, 5], SHIFT, strays_per_10=0), EVEN, None)
    assert blind.runner_up is not None
    assert abs(blind.runner_up - blind.shift) / 0.12 == pytest.approx(
        round(abs(blind.runner_up - blind.shift) / 0.12), abs=0.04
    )
    assert blind.log_odds < 1, "it cannot tell, and says so"


def test_a_ladder_with_its_own_face_is_certain() -> None:
    found = fitted(samples(LADDER, [1, 2, 3, 4, 5, 6], SHIFT), LADDER, SHIFT)
    assert found.log_odds > 20


def test_order_does_not_matter() -> None:
    values = samples(LADDER, [1, 2, 3, 4, 5, 6], SHIFT)
    shuffled = np.random.default_rng(1).permutation(values)
    assert fitted(values, LADDER, SHIFT).shift == fitted(shuffled, LADDER, SHIFT).shift


def test_two_copies_weigh_as_much_as_double_weight() -> None:
    values = samples(LADDER, [2, 3, 4], SHIFT, each=6)
    once = fit_shift(values, np.full(values.size, SD), np.full(values.size, 2.0), LADDER, SHIFT)
    twice = fitted(np.concatenate([values, values]), LADDER, SHIFT)
    assert (once.shift, once.log_odds) == pytest.approx((twice.shift, twice.log_odds))


GEARBOX = Gearbox(primary=3.0, gears=(2.5, 1.8, 1.4))
DRIVE = FinalDrive(front=15, rear=45)


def test_ladder_from_teeth_and_tyre() -> None:
    setup = Setup("before", DRIVE, Tyre(rolling_circumference_mm=2000.0))
    ladder = from_teeth(Bike(gearbox=GEARBOX), setup)
    assert ladder is not None
    assert ladder.log_ratio == pytest.approx(np.log([22.5, 16.2, 12.6]))
    assert ladder.expected_shift == pytest.approx(np.log(30))
    assert ladder.origin == "tooth counts"


@pytest.mark.parametrize(
    ("drive", "tyre", "shape"),
    [(DRIVE, Tyre(), (22.5, 16.2, 12.6)), (FinalDrive(front=15), Tyre(size="120/80-18"), (2.5, 1.8, 1.4))],
    ids=["no tyre", "no sprocket"],
)
def test_ladder_with_something_missing_has_no_expected_shift(
    drive: FinalDrive, tyre: Tyre, shape: tuple[float, ...]
) -> None:
    ladder = from_teeth(Bike(gearbox=GEARBOX), Setup("before", drive, tyre))
    assert ladder is not None
    assert ladder.log_ratio == pytest.approx(np.log(shape))
    assert ladder.expected_shift is None


def test_no_ladder_without_gears() -> None:
    assert from_teeth(Bike(gearbox=Gearbox(primary=3.0)), Setup("before", DRIVE)) is None
