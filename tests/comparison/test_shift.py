"""How far the gears moved from one setup to the other."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.comparison.shift import RIDE_TO_RIDE_SD, shift
from gearfit.fitting.levels import Levels
from gearfit.fitting.quantiles import family_limit

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


def test_with_a_prediction_a_gear_is_judged_by_it() -> None:
    """Just within, and just beyond, the limit of six gears together."""
    limit = family_limit(6, 30) * np.hypot(np.sqrt(2) * SD[3], RIDE_TO_RIDE_SD)
    for factor, consistent in ((0.99, True), (1.01, False)):
        found = shift(levels(ALL), levels(ALL, np.log(FACTOR), {4: factor * limit}), -6.25)
        assert found.gears[3].consistent is consistent
        assert sum(not gear.consistent for gear in found.gears) == (0 if consistent else 1)


def test_the_way_back_is_the_inverse() -> None:
    there = shift(levels(ALL), levels(ALL, np.log(FACTOR)), None).all_gears_percent
    back = shift(levels(ALL, np.log(FACTOR)), levels(ALL), None).all_gears_percent
    assert there is not None
    assert back is not None
    assert (1 + there.value / 100) * (1 + back.value / 100) == pytest.approx(1)
    assert (1 + there.lo95 / 100) * (1 + back.hi95 / 100) == pytest.approx(1)
