"""The step in which numbers were written."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.importers.cells import written_step


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
