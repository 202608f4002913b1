"""To which step speeds were read, where one sheet alone does not show it."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.fitting.pairing.material import Sheet
from gearfit.fitting.readings.sheet import Placed, fit_sheets
from gearfit.units import MPS_PER_MPH

GEAR = np.repeat(np.arange(1, 4), 3)


def sheet(written: list[int]) -> Placed:
    """Three gears, three readings each at a mark of its own; the importer took them to be read to one unit."""
    rpm = np.repeat([2750.0, 5250.0, 3750.0], 3)
    sheet = Sheet(
        rows=np.arange(9),
        speed_mps=MPS_PER_MPH * np.repeat(written, 3).astype(float),
        speed_sd_mps=np.full(9, MPS_PER_MPH / np.sqrt(12)),
        engine_rpm=rpm,
        rpm_sd_rpm=np.full(9, 250 / np.sqrt(12)),
        stated_gear=GEAR.astype(float),
        speed_step_mps=np.full(9, MPS_PER_MPH),
        rpm_step_rpm=np.full(9, 250.0),
    )
    return Placed(sheet, np.zeros(9, dtype=bool), GEAR, None, None)


@pytest.mark.parametrize(("after", "half_step_mph"), [([15, 45, 40], 2.5), ([14, 43, 38], 0.5)])
def test_fives_are_found_in_all_sheets_together(after: list[int], half_step_mph: float) -> None:
    """Four different multiples of five in two sheets, of which each holds three: 20 mph is known to 2.5 mph."""
    before, _ = fit_sheets([sheet([20, 45, 40]), sheet(after)])
    assert before.levels is not None
    sd = float(np.sqrt(before.levels.covariance[0, 0]))
    rounding = half_step_mph / 20 / np.sqrt(3)
    assert sd >= 0.9 * rounding
    assert (sd > 0.06) is (half_step_mph == 2.5)
