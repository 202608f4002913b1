"""A common level of several gears, and who is set aside."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.fitting.ratios.agreement import common_level
from gearfit.fitting.ratios.quantiles import family_limit

SD = np.array([0.010, 0.006, 0.004, 0.003, 0.002, 0.002])
CALM = -0.0645 + SD * np.array([0.5, -0.8, 0.3, 1.1, -0.6, 0.2])


def test_all_agree() -> None:
    found = common_level(CALM, np.diag(SD**2), 30)
    assert found.agrees.all()
    assert found.value == pytest.approx(np.average(CALM, weights=SD**-2))
    assert found.variance == pytest.approx(1 / np.sum(SD**-2))
    for g in range(6):
        others = np.arange(6) != g
        assert found.departure[g] == pytest.approx(CALM[g] - np.average(CALM[others], weights=SD[others] ** -2))
        assert found.departure_se[g] == pytest.approx(np.sqrt(SD[g] ** 2 + 1 / np.sum(SD[others] ** -2)))


@pytest.mark.parametrize("wild", range(6))
def test_one_wild_gear_is_set_aside(wild: int) -> None:
    values = CALM.copy()
    values[wild] += 0.1
    found = common_level(values, np.diag(SD**2), 30)
    assert np.flatnonzero(~found.agrees).tolist() == [wild]
    rest = np.arange(6) != wild
    assert found.value == pytest.approx(np.average(CALM[rest], weights=SD[rest] ** -2))
    assert found.departure[wild] == pytest.approx(values[wild] - found.value)


def test_two_wild_gears_are_set_aside() -> None:
    values = CALM.copy()
    values[1] += 0.12
    values[5] -= 0.08
    found = common_level(values, np.diag(SD**2), 30)
    assert np.flatnonzero(~found.agrees).tolist() == [1, 5]


def test_two_gears_that_disagree_are_both_flagged() -> None:
    found = common_level(np.array([-0.06, 0.02]), np.diag([0.002**2, 0.004**2]), 30)
    assert found.agrees.tolist() == [False, False]
    assert found.value == pytest.approx((4 * -0.06 + 0.02) / 5)


def test_two_gears_that_agree() -> None:
    assert common_level(np.array([-0.06, -0.061]), np.diag([0.002**2, 0.004**2]), 30).agrees.tolist() == [True, True]


def test_one_gear_has_no_other_to_disagree_with() -> None:
    found = common_level(np.array([-0.06]), np.array([[0.002**2]]), 30)
    assert (found.value, found.variance, found.agrees.tolist()) == (-0.06, 0.002**2, [True])
    assert np.isnan(found.departure[0])


def test_an_error_that_all_gears_share_sets_none_aside() -> None:
    """Correlated errors cancel in the differences between gears."""
    shared = np.diag(np.full(4, 0.001**2)) + 0.05**2
    values = np.array([0.05, 0.051, 0.049, 0.05])
    found = common_level(values, shared, 30)
    assert found.agrees.all()
    assert np.sqrt(found.variance) == pytest.approx(0.05, rel=0.001)
    values[2] += 0.02
    assert np.flatnonzero(~common_level(values, shared, 30).agrees).tolist() == [2]


def test_good_gears_are_rarely_accused() -> None:
    """In 1 % of 2000 families of six gears one is set aside by chance: binomial law, four deviations."""
    rng = np.random.default_rng(4)
    accused = sum(not common_level(SD * rng.standard_normal(6), np.diag(SD**2), 1e6).agrees.all() for _ in range(2000))
    assert accused / 2000 == pytest.approx(0.01, abs=0.009)


def test_just_within_and_just_beyond_the_limit() -> None:
    """Five gears alike, and a sixth that departs from them by slightly less or more than the limit."""
    limit = family_limit(6, 30) * np.sqrt(0.002**2 * (1 + 1 / 5))
    for factor, agrees in ((0.999, True), (1.001, False)):
        values = np.array([0.0, 0, 0, 0, 0, factor * limit])
        assert common_level(values, np.diag(np.full(6, 0.002**2)), 30).agrees[5] == agrees
