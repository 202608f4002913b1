"""The step in which numbers were written."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearfit.importers.common.written_step import written_step


@pytest.mark.parametrize(
    ("values", "step"),
    [
        ([0.5 * k for k in range(12)], 0.5),
        ([50.0 * k for k in range(12)], 50.0),
        ([0.1, 0.25], 0.01),
        ([3.0, 7.0], 1.0),
    ],
)
def test_step(values: list[float], step: float) -> None:
    assert written_step(np.array(values)) == pytest.approx(step)


def test_numbers_too_large_to_be_exact_have_no_common_divisor() -> None:
    """Found by mutated files: the difference does not fit into a whole number of 64 bits."""
    assert written_step(np.array([float(k) for k in range(9)] + [1e30])) == 1.0
    assert written_step(np.empty(0)) is None


def step_of_sorted(values: list[float]) -> float | None:
    """The definition, by way of the sorted distinct numbers."""
    distinct = np.unique(values)
    for digits in range(7):
        scaled = distinct * 10.0**digits
        whole = np.rint(scaled)
        if np.all(np.abs(scaled - whole) < 1e-3):
            few = distinct.size < 9 or np.max(np.abs(whole)) >= 2**53
            divisor = 1 if few else np.gcd.reduce(np.diff(whole).astype(np.int64))
            return float(divisor / 10.0**digits)
    return 1e-6 if values else None


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.integers(-4, 40), max_size=30),
    st.lists(st.integers(-(10**6), 10**6), max_size=4),
    st.sampled_from([0.25, 1.0, 0.05, 60.0, 1e-7, 0.0001, 3e14]),
    st.integers(1, 400),
)
def test_the_step_does_not_depend_on_order_and_length(few: list[int], late: list[int], unit: float, times: int) -> None:
    values = [k * unit for k in few * times + late]
    assert written_step(np.array(values)) == (step_of_sorted(values) if values else None)
