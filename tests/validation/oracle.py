"""The best that can be done: generalised least squares told the true gears, the true lag and the true noise."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.observed import observe
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.ratios.correlated import Noise
from gearfit.fitting.ratios.joint import InGear, solve
from gearfit.fitting.which_gear.passage import passages
from tests.simulator.recorder import Observation
from tests.validation.scenarios import Scenario

FloatArray = NDArray[np.float64]

#: The true shifts are kept out by this much, s: what smoothing the engine speed reaches, and no more.
_MARGIN_S = 0.3


def oracle_levels(scenario: Scenario, observation: Observation, stream: Stream, gears: int) -> FloatArray:
    """ln(n/v) of each gear ((G,), NaN where a gear has no samples)."""
    speed = scenario.speed
    offset_mps = speed.step_mps / 2 if speed.floored else 0.0
    o = observe(stream, observation.lag_s, offset_mps)
    true_gear = observation.truth["gear"].to_numpy()[stream.rows[o.index]]
    path = np.where(true_gear > 0, true_gear - 1, -1)
    number = passages(o.time_s, path)
    inside = number >= 0
    count = int(number.max()) + 1 if inside.any() else 0
    first, last = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(first, number[inside], o.time_s[inside])
    np.maximum.at(last, number[inside], o.time_s[inside])
    at = np.clip(number, 0, None)
    use = inside & (o.time_s >= first[at] + _MARGIN_S) & (o.time_s <= last[at] - _MARGIN_S) & np.isfinite(o.rpm_rate)
    levels = np.full(gears, np.nan)
    if not use.any():
        return levels
    white = np.hypot(speed.white_sd_mps, speed.step_mps / np.sqrt(12))
    step_rpm = scenario.rpm.step_rpm / np.sqrt(12)
    relative = float(np.hypot(scenario.rpm.noise_sd_rpm, step_rpm) / np.median(o.engine_rpm[use]))
    noise = Noise(max(float(white), 0.005), speed.correlated_sd_mps, speed.correlation_s, relative)
    v = speed_from_engine(o.engine_rpm[use], o.log_ratio[use], path[use], gears)
    bias = 0.5 * (noise.variance(v) - relative**2)
    samples = InGear(o.time_s[use], v, o.log_ratio[use] - bias, o.rpm_rate[use], path[use], number[use], noise)
    found = solve([samples], np.zeros(1), 1e-6, [(0.0, 0.0)])
    levels[found.gear] = found.level
    return levels


def speed_from_engine(engine_rpm: FloatArray, log_ratio: FloatArray, gear: NDArray[np.int64], gears: int) -> FloatArray:
    """Speed as the engine shows it, through the median ratio of each gear: free of the receiver's noise."""
    middle = np.array([np.median(log_ratio[gear == g]) if (gear == g).any() else np.nan for g in range(gears)])
    speed: FloatArray = engine_rpm * np.exp(-middle[gear])
    return speed
