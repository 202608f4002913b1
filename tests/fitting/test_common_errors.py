"""Errors that all rows have alike are found among readings, and scatter is none of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.fitting.readings.common_errors import SPEED
from gearfit.fitting.readings.sheet import fit_sheets
from gearfit.units import MPS_PER_KMH
from tests.fitting.test_rounded import CHANGE, notebook

THREE = np.tile(np.repeat([3000.0, 4000.0, 5000.0], 5), 2)


def test_scatter_of_readings_at_one_engine_speed_is_no_offset() -> None:
    """A rider who scatters by 2 %: a column made of the speeds as they were read would explain that as an offset."""
    for seed in range(12):
        rng = np.random.default_rng(seed)
        found = fit_sheets([notebook(rng, 0.02, 1.0), notebook(rng, 0.02, CHANGE)])
        assert [one.common for one in found] == [None, None]


@pytest.mark.parametrize("more_kmh", [6.0, -5.0])
def test_an_offset_is_found_with_its_size_and_widens_the_levels(more_kmh: float) -> None:
    for seed in range(4):
        rng = np.random.default_rng(seed)
        before, after = notebook(rng, 0.004, 1.0, THREE), notebook(rng, 0.004, CHANGE, THREE)
        plain = fit_sheets([before, after])[1]
        speed = after.sheet.speed_mps + more_kmh * MPS_PER_KMH
        found = fit_sheets([before, replace(after, sheet=replace(after.sheet, speed_mps=speed))])
        assert found[0].common is None
        error = found[1].common
        assert error is not None
        assert (error.kind, error.setups) == (SPEED, (1,))
        assert error.amount / MPS_PER_KMH == pytest.approx(more_kmh, abs=4 * error.error / MPS_PER_KMH)
        assert found[1].levels is not None
        assert plain.levels is not None
        assert np.all(np.diag(found[1].levels.covariance) > np.diag(plain.levels.covariance))
        moved = np.abs(found[1].levels.log_ratio - plain.levels.log_ratio)
        assert np.all(moved < 3 * np.sqrt(np.diag(found[1].levels.covariance)))
