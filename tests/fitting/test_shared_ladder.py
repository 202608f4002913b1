"""The ladder that one setup shows by itself, laid over one that does not."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.fitting.ladder import Ladder
from gearfit.fitting.shared_ladder import laid_beside

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
