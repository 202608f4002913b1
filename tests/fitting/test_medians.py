"""The median without checks, against numpy's."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.fitting.pairing.medians import median


@pytest.mark.parametrize("n", [1, 2, 3, 10, 101, 1000])
def test_as_numpy_has_it(n: int) -> None:
    rng = np.random.default_rng(n)
    for values in (rng.standard_normal(n), np.round(rng.standard_normal(n), 1), np.full(n, 0.1)):
        assert median(values) == np.median(values)
