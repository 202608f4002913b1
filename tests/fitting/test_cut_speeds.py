"""Whether coarse speeds were cut down or rounded, with and without tooth counts."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.fitting.ratios.cut_speeds import cut_or_rounded, ladder_log_odds, without_prior
from gearfit.fitting.ratios.joint import _ROAD_LOAD, InGear
from tests.fitting.test_joint import LAG_SD_S, LEVELS, NOISE

FloatArray = NDArray[np.float64]

HALF_MPS = 0.139


def test_the_odds_are_those_of_two_normal_laws() -> None:
    """Bayes' rule by hand: likelihoods of 0 and of half a step."""
    near, far = np.exp(-0.5 * (0.05 / 0.04) ** 2), np.exp(-0.5 * ((0.05 - HALF_MPS) / 0.04) ** 2)
    share = far / (near + far)
    offset, spread = cut_or_rounded(0.05, 0.04, HALF_MPS)
    assert offset == pytest.approx(HALF_MPS * share)
    assert spread == pytest.approx(HALF_MPS * np.sqrt(share * (1 - share)))


def test_what_is_known_beside_adds_to_the_log_odds() -> None:
    even = HALF_MPS / 2
    assert cut_or_rounded(even, 0.04, HALF_MPS)[0] == pytest.approx(HALF_MPS / 2)
    assert cut_or_rounded(even, 0.04, HALF_MPS, np.log(3.0))[0] == pytest.approx(0.75 * HALF_MPS)


def test_a_prior_is_taken_out_again() -> None:
    precision = 1 / 0.02**2 + 1 / 0.1**2
    posterior = (0.05 / 0.02**2 + 0.3 / 0.1**2) / precision
    assert without_prior(posterior, precision**-0.5, 0.3, 0.1) == pytest.approx((0.05, 0.02))


def held(missing_mps: float, levels: FloatArray = LEVELS) -> InGear:
    """Eight passages of 4 s in each gear, each gear at speeds of its own, that miss `missing_mps`; steady speeds."""
    rng = np.random.default_rng(5)
    passage = np.repeat(np.arange(24), 40)
    time_s = 6.0 * passage + 0.1 * np.tile(np.arange(40), 24)
    gear = passage % 3
    speed_mps = np.array([6.0, 12.0, 24.0])[gear]
    slip = 0.0005 * (_ROAD_LOAD[0] + _ROAD_LOAD[1] * speed_mps**2)
    error_mps = 0.05 * rng.standard_normal(24)[passage] + 0.04 * rng.standard_normal(passage.size)
    log_ratio = levels[gear] + slip + (missing_mps + error_mps) / speed_mps
    return InGear(time_s, speed_mps, log_ratio, np.zeros(passage.size), gear, passage, NOISE)


@pytest.mark.parametrize("missing_mps", [0.0, HALF_MPS])
def test_the_ladder_tells_which_offset_is_right(missing_mps: float) -> None:
    """Speeds that miss `missing_mps` show ln(n/v) too high by that over v; the true ladder shows which."""
    samples = held(missing_mps)
    odds = ladder_log_odds([samples], np.zeros(1), LAG_SD_S, [(0.0, 0.0)], 0, (0.0, HALF_MPS), LEVELS)
    assert odds * (1 if missing_mps else -1) > np.log(20.0)


def test_a_wrong_ladder_says_nothing() -> None:
    wrong = LEVELS + np.array([0.0, 0.05, 0.0])
    samples = held(0.0)
    assert ladder_log_odds([samples], np.zeros(1), LAG_SD_S, [(0.0, 0.0)], 0, (0.0, HALF_MPS), wrong) == 0.0
