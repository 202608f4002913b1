"""From passages to levels: random effects between passages, two sources merged."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.fitting.levels import STATED_DOF, Levels, _between_variance, merge, pool

GEARS = np.repeat([0, 1, 2], 8)


def scattered(between_sd: float, seed: int = 5) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    sd = rng.uniform(0.001, 0.004, GEARS.size)
    level = 5.0 - 0.4 * GEARS + np.hypot(sd, between_sd) * rng.standard_normal(GEARS.size)
    return level, sd**2


def test_the_variance_between_passages_solves_its_equation() -> None:
    """R. C. Paule and J. Mandel: the weighted sum of squares equals the degrees of freedom."""
    level, variance = scattered(0.01)
    between = _between_variance(level, variance, GEARS, 21)
    weight = 1 / (variance + between)
    mean = np.bincount(GEARS, weight * level) / np.bincount(GEARS, weight)
    assert np.sum(weight * (level - mean[GEARS]) ** 2) == pytest.approx(21, rel=1e-9)
    assert np.sqrt(between) == pytest.approx(0.01, rel=0.5)


def test_one_gear_against_the_consensus_mean_by_hand() -> None:
    """Three values with equal variance s^2: between + s^2 is their sample variance (exact for equal weights)."""
    level = np.array([1.0, 1.2, 1.7])
    between = _between_variance(level, np.full(3, 0.01), np.zeros(3, dtype=np.int64), 2)
    assert between + 0.01 == pytest.approx(np.var(level, ddof=1), rel=1e-9)


def test_no_variance_between_where_the_stated_errors_suffice() -> None:
    assert _between_variance(np.array([1.0, 1.001]), np.full(2, 0.01), np.zeros(2, dtype=np.int64), 1) == 0.0
    assert _between_variance(np.array([1.0]), np.array([0.01]), np.zeros(1, dtype=np.int64), 0) == 0.0


def test_pool_is_the_weighted_mean() -> None:
    level, variance = scattered(0.0, seed=8)
    found = pool(level, variance, GEARS, np.full(GEARS.size, 7))
    between = _between_variance(level, variance, GEARS, 21)
    for g in range(3):
        mine = g == GEARS
        assert found.log_ratio[g] == pytest.approx(np.average(level[mine], weights=1 / (variance + between)[mine]))
    assert found.gear.tolist() == [0, 1, 2]
    assert found.passages.tolist() == [8, 8, 8]
    assert found.samples.tolist() == [56, 56, 56]
    assert found.dof == (21 if between > 0 else STATED_DOF)


@pytest.mark.parametrize("between_sd", [0.0, 0.003, 0.02])
def test_pooled_intervals_hold_the_truth(between_sd: float) -> None:
    """Of 400 invented setups at least 95 % of the intervals hold the level: binomial law, 1200 tries, four deviations.

    Never much more either: scatter below the stated errors does not narrow the intervals, which costs a little.
    """
    from scipy.stats import t

    held = 0
    for seed in range(400):
        found = pool(*scattered(between_sd, seed), GEARS, np.ones(GEARS.size, dtype=np.int64))
        half = t.ppf(0.975, found.dof) * np.sqrt(np.diag(found.covariance))
        held += int(np.sum(np.abs(found.log_ratio - [5.0, 4.6, 4.2]) <= half))
    assert 0.925 <= held / 1200 <= 0.98


def test_one_passage_a_gear_keeps_its_stated_error() -> None:
    found = pool(np.array([5.0, 4.6]), np.array([4e-6, 9e-6]), np.array([0, 1]), np.array([3, 4]))
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx([0.002, 0.003])
    assert found.dof == STATED_DOF


def test_few_passages_never_narrow_the_stated_errors() -> None:
    """Two rows that happen to be alike are not an exact measurement."""
    found = pool(np.array([5.0, 5.0]), np.full(2, 1e-4), np.zeros(2, dtype=np.int64), np.ones(2, dtype=np.int64))
    assert found.covariance[0, 0] == pytest.approx(1e-4 / 2)


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
    assert both.dof == 12
    assert both.samples.tolist() == [10, 20 + 10, 20, 30]
    assert both.passages.tolist() == [1, 2 + 1, 2, 3]


def test_merge_does_not_care_about_order() -> None:
    ride, sheet = levels([1, 2], [5.0, 4.6], [0.002, 0.001]), levels([2, 3], [4.61, 4.3], [0.002, 0.003])
    one, other = merge(ride, sheet), merge(sheet, ride)
    assert one.log_ratio == pytest.approx(other.log_ratio)
    assert one.covariance == pytest.approx(other.covariance)
