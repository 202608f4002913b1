"""Noise of speeds that is known, found again."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.timed.noise import noise_in, scatter_shown
from gearfit.timed.trace import make_trace

TIME_S = np.arange(0, 120, 0.1)
#: Up and down between 10 and 30 m/s.
COURSE = 20 + 10 * np.sin(TIME_S / 4)


def noisy(white_mps: float) -> np.ndarray:
    return COURSE + white_mps * np.random.default_rng(7).standard_normal(TIME_S.size)


@pytest.mark.parametrize("white_mps", [0.02, 0.1])
def test_white_noise_of_a_curved_course(white_mps: float) -> None:
    everywhere = np.ones(TIME_S.size, dtype=bool)
    assert scatter_shown(TIME_S, noisy(white_mps), everywhere) == pytest.approx(white_mps, rel=0.08)


def test_values_beyond_a_gap_or_not_usable_are_no_noise() -> None:
    jumps = noisy(0.02) + 5.0 * (np.arange(TIME_S.size) // 10 % 2)
    usable = np.arange(TIME_S.size) % 10 != 0
    assert scatter_shown(TIME_S, jumps, usable) == pytest.approx(0.02, rel=0.1)
    gaps = TIME_S + 5.0 * (np.arange(TIME_S.size) // 10)
    assert scatter_shown(gaps, jumps, np.ones(TIME_S.size, dtype=bool)) == pytest.approx(0.02, rel=0.1)


def test_slow_or_few_values_show_nothing() -> None:
    everywhere = np.ones(TIME_S.size, dtype=bool)
    assert scatter_shown(10 * TIME_S, noisy(0.1), everywhere) == np.inf
    assert scatter_shown(TIME_S[:20], noisy(0.1)[:20], everywhere[:20]) == np.inf


def test_the_smaller_white_part_counts() -> None:
    trace = make_trace(TIME_S, noisy(0.03))
    assert noise_in(trace, (0.09, 0.05, 2.0)).white_mps == pytest.approx(0.03, rel=0.08)
    assert noise_in(trace, (0.02, 0.05, 2.0)).white_mps == pytest.approx(0.02)
    assert noise_in(trace, (0.02, 0.05, 2.0)).correlated_mps == 0.05


def test_rounding_counts_once() -> None:
    """Speeds in steps of 1 km/h scatter by 0.080 m/s (step / sqrt 12), which each sample's own error holds already."""
    step = 1 / 3.6
    rounded = np.round(noisy(0.04) / step) * step
    trace = make_trace(TIME_S, rounded, speed_sd_mps=np.full(TIME_S.size, step / 12**0.5))
    assert noise_in(trace, None).white_mps < 0.065
    unstated = noise_in(make_trace(TIME_S, rounded), None).white_mps
    assert unstated == pytest.approx(np.hypot(0.04, step / 12**0.5), rel=0.15)
