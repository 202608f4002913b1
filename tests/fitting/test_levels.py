"""Levels of gears: two sources merged, and what errors that setups share leave of a difference."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.fitting.ratios.levels import Levels, difference_covariance, merge


def levels(gear: list[int], log_ratio: list[float], sd: list[float], dof: float = 30.0) -> Levels:
    counts = np.arange(1, len(gear) + 1)
    return Levels(np.array(gear), np.array(log_ratio), np.diag(np.array(sd) ** 2), dof, 10 * counts, counts)


def test_merge_is_the_weighted_mean() -> None:
    ride = levels([1, 2, 4], [5.0, 4.6, 4.1], [0.002, 0.001, 0.001])
    sheet = levels([2, 3], [4.61, 4.3], [0.002, 0.003], dof=12)
    both = merge(ride, sheet)
    assert both.gear.tolist() == [1, 2, 3, 4]
    assert both.log_ratio == pytest.approx([5.0, (4 * 4.6 + 4.61) / 5, 4.3, 4.1])
    assert np.diag(both.covariance) == pytest.approx([4e-6, 1 / (1e6 + 0.25e6), 9e-6, 1e-6])
    # Welch and Satterthwaite by hand: gears 1 and 4 are the ride's alone, gear 3 the sheet's; in gear 2 the ride weighs
    # 4/5 and the sheet 1/5.
    of_ride, of_sheet = 4e-6 + 1e-6 + 0.8**2 * 1e-6, 9e-6 + 0.2**2 * 4e-6
    assert both.dof == pytest.approx((of_ride + of_sheet) ** 2 / (of_ride**2 / 30 + of_sheet**2 / 12))
    assert both.samples.tolist() == [10, 20 + 10, 20, 30]
    assert both.passages.tolist() == [1, 2 + 1, 2, 3]


def test_merge_does_not_care_about_order() -> None:
    ride, sheet = levels([1, 2], [5.0, 4.6], [0.002, 0.001]), levels([2, 3], [4.61, 4.3], [0.002, 0.003])
    one, other = merge(ride, sheet), merge(sheet, ride)
    assert one.log_ratio == pytest.approx(other.log_ratio)
    assert one.covariance == pytest.approx(other.covariance)


def test_merge_keeps_errors_that_setups_share_by_what_each_part_weighs() -> None:
    """The sheet, with a shared error of 0.3 %, weighs 1/5 in second gear, and alone makes the third."""
    ride = levels([2], [4.6], [0.001])
    common = np.array([[0.0], [0.003]])
    sheet = levels([2, 3], [4.61, 4.3], [0.002, 0.003], dof=12)
    sheet = replace(sheet, covariance=sheet.covariance + common @ common.T, shared=common)
    both = merge(ride, sheet)
    assert both.log_ratio == pytest.approx([4.602, 4.3])
    assert both.shared[:, 0] == pytest.approx([0.0, 0.003])
    assert np.diag(both.covariance) == pytest.approx([0.8e-6, 18e-6])


def test_an_error_that_both_setups_share_cancels_in_the_difference() -> None:
    """Variances by hand: 0.2 % and 0.1 % of their own stay, the common 0.4 % goes; of 0.4 and 0.3 % 0.1 % stays."""
    for there, left in ((0.004, 0.0), (0.003, 0.001)):
        one = replace(levels([1, 2], [5.0, 4.6], [1.0, 1.0]), shared=np.array([[0.0], [0.004]]))
        other = replace(levels([2, 3], [4.6, 4.2], [1.0, 1.0]), shared=np.array([[there], [0.0]]))
        one = replace(one, covariance=np.diag([4e-6, 4e-6]) + one.shared @ one.shared.T)
        other = replace(other, covariance=np.diag([1e-6, 1e-6]) + other.shared @ other.shared.T)
        found = difference_covariance(one, other, np.array([1]), np.array([0]))
        assert found == pytest.approx(np.array([[4e-6 + 1e-6 + left**2]]))


def test_nothing_cancels_where_nothing_is_shared() -> None:
    one, other = levels([1, 2], [5.0, 4.6], [0.003, 0.001]), levels([1, 2], [5.1, 4.7], [0.004, 0.002])
    found = difference_covariance(one, other, np.arange(2), np.arange(2))
    assert found == pytest.approx(np.diag([25e-6, 5e-6]))
    sharing = replace(other, shared=np.array([[0.01], [0.01]]))
    assert difference_covariance(one, sharing, np.arange(2), np.arange(2)) == pytest.approx(found)
