"""Which steps count as gears: engaged twice, for long, or once with a ratio that stays put."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.fitting.pairing.observed import Observed
from gearfit.fitting.which_gear.ridden import renumbered, surely_ridden

FloatArray = NDArray[np.float64]


def observed(time_s: FloatArray, log_ratio: FloatArray) -> Observed:
    """Samples with nothing in them but time and ratio."""
    n = time_s.size
    blank = np.zeros(n)
    return Observed(
        0.0, np.arange(n), time_s, blank + 10, blank, np.exp(log_ratio) * 10, blank, log_ratio, blank, blank + 0.1,
        blank, 1.0,
    )  # fmt: skip


def sure(path: NDArray[np.int64], log_ratio: FloatArray) -> list[bool]:
    time_s = np.linspace(0.0, 0.1 * (path.size - 1), path.size, dtype=np.float64)
    found = surely_ridden([observed(time_s, log_ratio)], [path], [np.full(path.size, 0.005)], int(path.max()) + 1)
    return [bool(mark) for mark in found]


def once(seconds: float, slope: float) -> tuple[NDArray[np.int64], FloatArray]:
    """Sixteen seconds in the first step, then the second for a while, its ratio drifting by `slope` in all."""
    n = round(10 * seconds)
    path = np.concatenate([np.zeros(160, dtype=np.int64), [-1] * 10, np.ones(n, dtype=np.int64), [-1] * 10])
    ratio = np.concatenate([np.full(170, 5.0), 4.7 + np.linspace(-slope / 2, slope / 2, n), np.full(10, 4.7)])
    return path, ratio


@pytest.mark.parametrize(
    ("seconds", "slope", "gear"),
    [(5.0, 0.0, True), (3.0, 0.0, False), (5.0, 0.06, False), (10.5, 0.06, True)],
    ids=["level", "brief", "sloping", "long"],
)
def test_a_step_engaged_once(seconds: float, slope: float, gear: bool) -> None:
    assert sure(*once(seconds, slope)) == [True, gear]


def test_a_step_engaged_twice_is_a_gear() -> None:
    path, ratio = once(2.0, 0.06)
    assert sure(np.concatenate([path, path]), np.concatenate([ratio, ratio])) == [True, True]


def test_paths_are_numbered_anew() -> None:
    path = np.array([-1, 0, 1, 2, 2, 0])
    assert renumbered(path, np.array([True, False, True])).tolist() == [-1, 0, -1, 1, 1, 0]
