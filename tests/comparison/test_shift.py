"""How far the gears moved from one setup to the other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.comparison.shift import as_predicted, shift
from gearfit.fitting.ratios.levels import Levels

LOG_RATIO = np.array([6.2, 5.8, 5.5, 5.3, 5.15, 5.05])
SD = np.array([0.008, 0.005, 0.004, 0.003, 0.003, 0.002])


def levels(gears: list[int], moved: float = 0.0, departures: dict[int, float] | None = None) -> Levels:
    """Levels of some gears, road speed at the same engine speed larger by the factor exp(`moved`)."""
    at = np.array(gears) - 1
    log_ratio = LOG_RATIO[at] - moved - np.array([(departures or {}).get(gear, 0.0) for gear in gears])
    count = np.ones(at.size, dtype=np.int64)
    return Levels(np.array(gears), log_ratio, np.diag(SD[at] ** 2), 30.0, count, count)


ALL = [1, 2, 3, 4, 5, 6]
FACTOR = 15 / 16


def test_a_lower_gearing_is_a_negative_change() -> None:
    found = shift(levels(ALL), levels(ALL, np.log(FACTOR)), -6.25)
    assert [gear.change_percent.value for gear in found.gears] == pytest.approx([-6.25] * 6)
    assert [gear.predicted_percent for gear in found.gears] == [-6.25] * 6
    assert all(gear.consistent for gear in found.gears)
    assert found.all_gears_percent is not None
    assert found.all_gears_percent.value == pytest.approx(-6.25)
    assert found.log_se == pytest.approx(np.sqrt(2 / np.sum(SD**-2)))
    assert [gear.change_percent.se for gear in found.gears] == pytest.approx(100 * FACTOR * SD * np.sqrt(2))


def test_only_gears_ridden_in_both_are_compared() -> None:
    found = shift(levels([1, 2, 3, 5]), levels([2, 4, 5, 6], np.log(FACTOR)), None)
    assert [gear.gear for gear in found.gears] == [2, 5]


@pytest.mark.parametrize(("reference", "other"), [(None, levels(ALL)), (levels(ALL), None), (levels([1]), levels([2]))])
def test_nothing_to_compare(reference: Levels | None, other: Levels | None) -> None:
    found = shift(reference, other, -6.25)
    assert (found.gears, found.all_gears_percent, found.agreement) == ((), None, None)
    assert np.isnan([found.log_change, found.log_se, found.dof]).all()


def test_without_a_prediction_gears_are_judged_by_each_other() -> None:
    found = shift(levels(ALL), levels(ALL, np.log(FACTOR), {2: -0.06}), None)
    assert [gear.consistent for gear in found.gears] == [True, False, True, True, True, True]
    assert found.all_gears_percent is not None
    assert found.all_gears_percent.value == pytest.approx(-6.25), "the wild gear does not pull the mean"


def test_one_gear_without_a_prediction_is_not_judged() -> None:
    assert shift(levels([3]), levels([3], 0.1), None).gears[0].consistent is None


def test_gears_are_judged_by_each_other_never_by_the_prediction() -> None:
    """All gears moved alike, far from what is predicted: none of them is out of line."""
    found = shift(levels(ALL), levels(ALL, np.log(0.90)), -6.25)
    assert all(gear.consistent for gear in found.gears)
    assert found.suspect is None, "without any one of them the rest is as far off"


def test_the_one_gear_that_keeps_the_others_from_the_prediction_is_suspected() -> None:
    """Third gear off by three of its standard errors: not beyond chance among six, but the rest is as predicted."""
    departure = 3.2 * np.sqrt(2) * SD[2]
    found = shift(levels(ALL), levels(ALL, np.log(FACTOR) + 0.0035, {3: departure}), -6.25)
    assert all(gear.consistent for gear in found.gears)
    without = shift(levels([1, 2, 4, 5, 6]), levels([1, 2, 4, 5, 6], np.log(FACTOR) + 0.0035), -6.25)
    assert found.all_gears_percent is not None
    assert without.all_gears_percent is not None
    assert not as_predicted(found.all_gears_percent, -6.25)
    assert as_predicted(without.all_gears_percent, -6.25)
    assert found.suspect == 3


def test_what_two_setups_share_cancels_in_the_change() -> None:
    """An instrument that may be off by 2 % in both setups moves no gear; read from two instruments it does."""
    common = np.full((6, 1), 0.02)
    alike = [replace(one, covariance=one.covariance + common @ common.T, shared=common) for one in (levels(ALL),) * 2]
    found, plain = shift(alike[0], alike[1], None), shift(levels(ALL), levels(ALL), None)
    assert found.log_se == pytest.approx(plain.log_se, rel=1e-6)
    apart = shift(alike[0], replace(alike[1], shared=np.zeros((6, 1))), None)
    assert apart.log_se == pytest.approx(np.hypot(plain.log_se, 0.02 * np.sqrt(2)), rel=1e-3)


def test_the_way_back_is_the_inverse() -> None:
    there = shift(levels(ALL), levels(ALL, np.log(FACTOR)), None).all_gears_percent
    back = shift(levels(ALL, np.log(FACTOR)), levels(ALL), None).all_gears_percent
    assert there is not None
    assert back is not None
    assert (1 + there.value / 100) * (1 + back.value / 100) == pytest.approx(1)
    assert (1 + there.lo95 / 100) * (1 + back.hi95 / 100) == pytest.approx(1)


def test_gears_noted_one_too_high_are_found_and_no_change_is_given() -> None:
    """Gears 1 to 5 after, noted as 2 to 6: as noted they differ by the steps of the gearbox."""
    at = np.arange(5)
    count = np.ones(5, dtype=np.int64)
    log_ratio = LOG_RATIO[at] - np.log(FACTOR)
    after = Levels(at + 2, log_ratio, np.diag(SD[at] ** 2), 30.0, count, count)
    found = shift(levels(ALL), after, -6.25)
    assert (found.gears, found.all_gears_percent) == ((), None)
    assert found.noted_off is not None
    assert found.noted_off[0] == 1
    assert found.noted_off[1] == pytest.approx(-6.25)
    assert shift(levels(ALL), levels(ALL, np.log(FACTOR), {2: -0.06}), -6.25).noted_off is None, (
        "one wild gear is not all"
    )


def test_the_slip_of_one_tyre_cancels_and_that_of_two_does_not() -> None:
    """By hand: 0.1 % of their own in each setup and 0.2 % by the slip, in one gear."""
    slip = np.array([[0.002, 0.0]])
    one = replace(levels([3]), covariance=np.array([[1e-6]]) + slip @ slip.T, shared=slip)
    for same_tyre, variance in ((True, 2e-6), (False, 2e-6 + 2 * 4e-6)):
        assert shift(one, one, None, same_tyre=same_tyre).log_se == pytest.approx(variance**0.5)
