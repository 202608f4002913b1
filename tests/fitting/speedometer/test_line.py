"""The line through shown and true speeds against published fits, and its intervals against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.errors import UndecidableError
from gearfit.speedometer.clusters import Solution, clustered
from gearfit.speedometer.line import fit, hinges
from gearfit.speedometer.pairs import Pairs, join, sheet_pairs
from gearfit.speedometer.steps import within_steps
from tests.fitting.york_reference import line_fit

FloatArray = NDArray[np.float64]

#: K. Pearson's data (1901) with D. York's weights (1966).
PEARSON_X = np.array([0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
PEARSON_WX = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
PEARSON_Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
PEARSON_WY = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def pairs(x: FloatArray, y: FloatArray, x_sd: FloatArray, y_sd: FloatArray, step: float = 0.0) -> Pairs:
    return sheet_pairs("dash.csv", np.arange(2, x.size + 2), x, x_sd, y, y_sd, step)


def test_pearsons_data_with_yorks_weights() -> None:
    """J. H. Williamson's solution (1968), and York 2004, Table II, scaled by the scatter as the GTC tests print it."""
    found = fit(pairs(PEARSON_X, PEARSON_Y, PEARSON_WX**-0.5, PEARSON_WY**-0.5), sound=np.ones(10, dtype=bool)).solution
    assert found.parameters == pytest.approx([5.47991022403, -0.48053340745], rel=1e-10)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx([0.359246522551112, 0.070620269528771], rel=1e-9)
    assert found.dof == 8


def test_the_line_is_that_of_the_york_module() -> None:
    rng = np.random.default_rng(1)
    true = rng.uniform(8, 35, 30)
    x_sd, y_sd = rng.uniform(0.05, 0.4, 30), rng.uniform(0.05, 0.4, 30)
    x, y = true + x_sd * rng.standard_normal(30), 0.3 + 1.06 * true + y_sd * rng.standard_normal(30)
    found = fit(pairs(x, y, x_sd, y_sd), sound=np.ones(30, dtype=bool)).solution
    expected = line_fit(x, y, x_sd, y_sd)
    assert found.parameters == pytest.approx([expected.intercept, expected.slope], rel=1e-9)


def test_cr3_of_units_of_one_is_hc3() -> None:
    """With one row a unit A = 1/(1 - h): MacKinnon and White's HC3 (1985), written out."""
    rng = np.random.default_rng(2)
    x = np.column_stack([np.ones(12), rng.uniform(5, 30, 12)])
    weight, residual = rng.uniform(0.5, 2, 12), rng.standard_normal(12)
    covariance, *_ = clustered(x, residual, weight, np.arange(12))
    bread = np.linalg.inv(x.T @ np.diag(weight) @ x)
    h = weight * np.einsum("ij,jk,ik->i", x, bread, x)
    meat = x.T @ np.diag(weight**2 * residual**2 / (1 - h) ** 2) @ x
    assert covariance == pytest.approx(bread @ meat @ bread, rel=1e-9)


def test_degrees_of_freedom_of_a_mean_over_equal_units() -> None:
    """A mean of G units of equal size has G - 1, as the t test of unit means; the jackknife adds G/(G - 1)."""
    rng = np.random.default_rng(3)
    unit = np.repeat(np.arange(7), 5)
    residual = rng.standard_normal(35)
    residual -= residual.mean()
    covariance, whitened, reduced, spread = clustered(np.ones((35, 1)), residual, np.ones(35), unit)
    means = residual.reshape(7, 5).mean(axis=1)
    assert covariance[0, 0] == pytest.approx(means.var(ddof=1) / 6, rel=1e-9)
    solution = Solution(np.zeros(1), covariance, 60.0, (whitened, reduced, spread))
    assert solution.dof_of(np.ones(1)) == pytest.approx(6, rel=1e-6)


@pytest.mark.parametrize("middle", [-3.0, -0.4, 0.0, 0.7, 2.5, 12.0, -12.0])
def test_mean_within_a_step(middle: float) -> None:
    """Mean and variance of a truncated normal, by numerical integration with SciPy."""
    from scipy.stats import truncnorm

    low, high = middle - 0.5, middle + 0.5
    inside = truncnorm(low, high)
    expected_mean, expected_variance = float(inside.mean()), float(inside.var())
    mean, share = within_steps(*(np.array([v]) for v in (middle, 1.0, 0.0, 1.0)))
    if abs(middle) < 5:
        assert mean[0] == pytest.approx(expected_mean, abs=1e-7)
        assert share[0] == pytest.approx(1 - expected_variance, abs=1e-6)
    else:  # beyond the reach of double precision the nearer edge stands for the mean
        assert mean[0] == pytest.approx(middle - 0.5 * np.sign(middle))


def test_an_exact_reading_stays_as_it_is() -> None:
    mean, share = within_steps(np.array([3.0]), np.zeros(1), np.array([1.0]), np.ones(1))
    assert (mean[0], share[0]) == (3.0, 1.0)


def test_readings_in_steps_of_five_are_used_as_intervals() -> None:
    """Rounding to 5 km/h at held speeds that repeat: middles of steps are biased, intervals are not."""
    rng = np.random.default_rng(4)
    step = 5 / 3.6
    true = np.repeat(rng.uniform(9, 35, 40), 3)
    needle = 0.3 + 1.05 * true + 0.15 * rng.standard_normal(true.size)
    shown = np.round(needle / step) * step
    sd = np.full(true.size, 0.15)
    found = fit(pairs(true, shown, np.full(true.size, 0.05), sd, step)).solution
    assert found.parameters[1] == pytest.approx(1.05, abs=4 * np.sqrt(found.covariance[1, 1]))
    assert np.sqrt(found.covariance[1, 1]) < 0.006
    plain = np.polyfit(true, shown, 1)[0]
    assert abs(found.parameters[1] - 1.05) < abs(plain - 1.05)


def test_hinges() -> None:
    assert hinges(np.array([1.0, 4.0]), np.array([2.0, 3.0])).tolist() == [[1, 1, 0, 0], [1, 4, 2, 1]]


def test_one_wild_reading_is_set_aside_and_no_other() -> None:
    rng = np.random.default_rng(5)
    true = np.linspace(10, 34, 14)
    shown = 1.04 * true + 0.15 * rng.standard_normal(14)
    shown[6] += 10 / 3.6
    found = fit(pairs(true, shown, np.full(14, 0.1), np.full(14, 0.15)))
    assert np.flatnonzero(~found.sound).tolist() == [6]
    assert found.solution.parameters[1] == pytest.approx(1.04, abs=0.03)


def test_the_order_of_rows_changes_nothing() -> None:
    rng = np.random.default_rng(6)
    true = rng.uniform(10, 34, 20)
    p = pairs(true, 1.04 * true + 0.15 * rng.standard_normal(20), np.full(20, 0.1), np.full(20, 0.15), 0.1)
    shuffled = fit(p.take(rng.permutation(20))).solution
    assert shuffled.parameters == pytest.approx(fit(p).solution.parameters, rel=1e-9)


def test_too_few_or_too_much_alike() -> None:
    two = pairs(np.array([10.0, 30.0]), np.array([11.0, 31.0]), np.full(2, 0.1), np.full(2, 0.1))
    with pytest.raises(UndecidableError, match=r"^2 pairs of shown and true speed are too few; three are the least$"):
        fit(two)
    alike = pairs(np.full(5, 20.0) + np.arange(5) / 10, np.full(5, 21.0), np.full(5, 0.1), np.full(5, 0.1))
    with pytest.raises(UndecidableError) as caught:
        fit(alike)
    assert str(caught.value) == ("the speeds are too much alike to tell gain from offset: note speeds further apart")


def test_joined_pairs_keep_their_units_apart() -> None:
    one = pairs(np.array([10.0, 20.0]), np.array([11.0, 21.0]), np.full(2, 0.1), np.full(2, 0.1))
    assert join([one, one]).unit.tolist() == [0, 1, 2, 3]
