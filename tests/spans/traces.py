"""Traces whose true times are known."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from gearfit.timed.noise import SpeedNoise
from gearfit.timed.trace import Trace, make_trace

FloatArray = NDArray[np.float64]

#: No noise at all; a course of which nothing is known between samples, and one known to be even.
EXACT = SpeedNoise(0.0, 0.0, 1.0)
EVEN = SpeedNoise(0.0, 0.0, 1.0, 1e-12, 1e-12)


def trace_of(speed: Callable[[FloatArray], FloatArray], rate_hz: float, end_s: float) -> Trace:
    """Sample a speed (a function of time) without noise."""
    time_s = np.arange(round(end_s * rate_hz) + 1) / rate_hz
    return make_trace(time_s, speed(time_s))


def start_and_stop(start_s: float, acceleration: float, top_mps: float) -> Callable[[FloatArray], FloatArray]:
    """Stand, accelerate evenly to `top_mps`, hold it."""
    return lambda t: np.clip(acceleration * (t - start_s), 0.0, top_mps)
