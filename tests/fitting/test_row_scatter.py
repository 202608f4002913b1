"""The scatter of readings is found from them, and a reading that does not belong is found at that scatter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from gearfit.fitting.readings.row_scatter import Model, find_odd, fit_scatter, fits_better, independent

GEARS = np.repeat(np.arange(6), 4)


def model(scatter: float, seed: int, reading_sd: float = 0.0005) -> Model:
    """Six gears with four readings each."""
    rng = np.random.default_rng(seed)
    values = 5.0 - 0.2 * GEARS + np.hypot(scatter, reading_sd) * rng.standard_normal(GEARS.size)
    design = (GEARS[:, None] == np.arange(6)).astype(float)
    rows = GEARS.size
    return Model(design, np.empty((rows, 0)), values, np.full(rows, reading_sd**2), np.ones(rows))


@pytest.mark.parametrize("scatter", [0.003, 0.01, 0.02])
def test_the_scatter_is_found(scatter: float) -> None:
    found = [fit_scatter(model(scatter, seed)).scatter for seed in range(40)]
    assert float(np.median(found)) == pytest.approx(scatter, rel=0.1)


def test_an_interval_at_its_scatter_is_that_of_the_usual_analysis() -> None:
    """With many readings and no reading error: residual standard error and Student's t of an analysis of variance."""
    rng = np.random.default_rng(3)
    values = 5.0 + 0.01 * rng.standard_normal(60)
    many = Model(np.ones((60, 1)), np.empty((60, 0)), values, np.full(60, 1e-12), np.ones(60))
    found = fit_scatter(many)
    half = stats.t.ppf(0.975, found.dof) * found.scatter / np.sqrt(60)
    classical = stats.sem(values) * stats.t.ppf(0.975, 59)
    assert half == pytest.approx(classical, rel=0.05)


@pytest.mark.parametrize("scatter", [0.005, 0.01, 0.02])
def test_intervals_of_a_single_gear_hold_the_truth(scatter: float) -> None:
    """Of 300 invented notebooks 95 % of the intervals hold the level: binomial law, three standard deviations."""
    held = 0
    for seed in range(300):
        one = model(scatter, seed)
        found = fit_scatter(one)
        half = stats.t.ppf(0.975, found.dof) * np.hypot(found.scatter, 0.0005) / 2
        held += int(abs(float(np.mean(one.values[GEARS == 2])) - 4.6) <= half)
    assert 0.95 - 3 * 0.0126 <= held / 300 <= 0.95 + 3 * 0.0126


def rows(one: Model) -> np.ndarray:
    return np.eye(one.values.size)


@pytest.mark.parametrize(("scatter", "off"), [(0.004, 0.03), (0.01, 0.07), (0.02, 0.14)])
def test_a_reading_far_off_is_found_at_the_scatter_of_the_others(scatter: float, off: float) -> None:
    for seed in range(10):
        one = model(scatter, seed)
        one.values[9] += off
        found = find_odd(one, rows(one))
        assert found.names == (9,)
        assert found.amount[0] == pytest.approx(off, abs=4 * scatter)
        assert found.twins == ((),)


def test_good_readings_are_rarely_accused() -> None:
    """In 1 % of 300 notebooks one may be: binomial law, beyond 1 in 1000."""
    assert sum(bool(find_odd(one, rows(one)).names) for one in (model(0.015, s) for s in range(300))) <= 9


def test_of_two_readings_that_contradict_each_other_neither_is_accused_alone() -> None:
    """One reading a gear in two setups: the third gear's may be wrong in either."""
    rng = np.random.default_rng(1)
    gear, after = np.tile(np.arange(6), 2), np.repeat([0.0, 1.0], 6)
    design = np.column_stack([(gear[:, None] == np.arange(6)).astype(float), after])
    values = 5.0 - 0.2 * gear + 0.07 * after + 0.002 * rng.standard_normal(12)
    values[8] += 0.06
    one = Model(design, np.empty((12, 0)), values, np.full(12, 1e-6), np.ones(12))
    found = find_odd(one, np.eye(12))
    assert sorted([*found.names, *found.twins[0]]) == [2, 8]


def test_a_column_that_others_make_up_is_left_out() -> None:
    columns = np.array([[1.0, 0.0, 1.0, 2.0], [0.0, 1.0, 1.0, 1.0], [1.0, 1.0, 2.0, 5.0]])
    assert independent(columns).tolist() == columns[:, [0, 1, 3]].tolist()


def test_a_freer_model_is_taken_only_where_it_fits_better() -> None:
    """Gears that lie on their ratios need no levels of their own; gears that do not, do (F test at 1 %)."""
    free = model(0.005, 2)
    for off, better in ((0.0, False), (0.05, True)):
        values = free.values + 0.2 * GEARS + off * (GEARS % 2)
        moved = Model(free.design, free.shared, values, free.reading_variance, free.repeats)
        strict = Model(np.ones((24, 1)), free.shared, values, free.reading_variance, free.repeats)
        assert fits_better(moved, strict) is better
