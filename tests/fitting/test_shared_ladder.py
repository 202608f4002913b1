"""The ladder that one setup shows by itself, laid over one that does not."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.shared_ladder import laid_beside, one_ladder
from gearfit.fitting.which_gear.ladder import Ladder

SHOWN = Ladder(np.log(np.array([300.0, 210.0, 160.0])), 0.0, 0.02, "from the samples")


def test_a_setup_that_does_not_show_its_gears_may_have_changed_as_far_as_sprockets_go() -> None:
    """Two teeth in front of 15 are 14 %, within two standard deviations."""
    laid = laid_beside(SHOWN, None)
    assert laid.expected_shift == 0.0
    assert abs(float(np.log(13 / 15))) < 2 * laid.shift_sd


def test_it_is_expected_where_the_teeth_say() -> None:
    """14 teeth instead of 15: engine speed per road speed rises by 15/14."""
    laid = laid_beside(SHOWN, float(np.log(14 / 15)))
    assert laid.expected_shift == pytest.approx(np.log(15 / 14))
    assert laid.log_ratio is SHOWN.log_ratio


def test_a_gear_that_no_setup_used_keeps_its_number() -> None:
    """Third was skipped in both rides: fourth and fifth stay fourth and fifth."""
    first_to_fifth = np.log(np.array([300.0, 220.0, 170.0, 140.0, 119.0]))
    used = np.array([1, 2, 4, 5])
    before = Levels(used, first_to_fifth[used - 1], 1e-6 * np.eye(4), 100.0, 100 * np.ones(4, int), 9 * np.ones(4, int))
    after = Levels(used, before.log_ratio + 0.07, before.covariance, 100.0, before.samples, before.passages)
    (ladder, _), _ = one_ladder([before, after], [0.0, -0.07])
    assert ladder.log_ratio.size == 5
    assert ladder.log_ratio[used - 1] == pytest.approx(before.log_ratio)
