"""A series at moments between its samples, against numpy's polynomial fit."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.fitting.pairing.local_lines import interpolated, local_lines


def test_a_local_line_is_the_least_squares_line() -> None:
    rng = np.random.default_rng(1)
    time_s = np.cumsum(rng.uniform(0.05, 0.15, 200)) + 1e6
    values = rng.standard_normal(200)
    at_s = rng.uniform(time_s[10], time_s[-10], 30)
    value, rate = local_lines(time_s, values, at_s, 0.4)
    for moment, found, slope in zip(at_s, value, rate, strict=True):
        near = np.abs(time_s - moment) <= 0.4
        expected_slope, expected = np.polyfit(time_s[near] - moment, values[near], 1)
        assert found == pytest.approx(expected, abs=1e-6)
        assert slope == pytest.approx(expected_slope, abs=1e-5)


def test_too_few_samples_give_no_line() -> None:
    time_s = np.array([0.0, 0.1, 0.2, 5.0, 5.1, 5.2, 5.3])
    value, _ = local_lines(time_s, time_s, np.array([0.1, 5.15]), 0.3)
    assert np.isnan(value[0])
    assert value[1] == pytest.approx(5.15)


def test_interpolation_and_its_gaps() -> None:
    time_s, values = np.array([0.0, 1.0, 4.0, 5.0]), np.array([0.0, 2.0, 2.0, 5.0])
    value, rate = interpolated(time_s, values, np.array([-0.1, 0.25, 2.0, 4.5, 5.1]), 1.5)
    np.testing.assert_allclose(value, [np.nan, 0.5, np.nan, 3.5, np.nan])
    np.testing.assert_allclose(rate, [np.nan, 2.0, np.nan, 3.0, np.nan])
    assert np.isnan(interpolated(time_s[:1], values[:1], np.array([0.0]), 1.0)[0]).all()


def test_a_series_without_two_samples_has_nothing_between() -> None:
    none = np.empty(0)
    assert np.isnan(interpolated(none, none, np.array([0.0, 1.0]), 1.0)).all()
