"""What instruments make of a ride: satellite receivers, the machine's own speed, tachometers."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.validation.recorded.ride import STEP_S, Ridden

Floats = NDArray[np.float64]

Smoothing = Literal["none", "first order", "adaptive", "constant velocity", "drifting delay"]
PickUp = Literal["gearbox", "rear wheel", "front wheel"]


@dataclass(frozen=True)
class Tachometer:
    """Reads gain times the engine speed plus an offset, late by a filter, in steps that are rounded or cut."""

    gain: float
    step_rpm: float = 1.0
    cut: bool = False
    filter_s: float = 0.02
    offset_rpm: float = 0.0

    def read(self, ridden: Ridden, times: Floats, rng: np.random.Generator) -> Floats:
        """What it shows at these times, rev/min."""
        smooth = first_order(ridden.engine_rpm, self.filter_s)
        shown = np.interp(times, ridden.time_s, smooth) * self.gain * rng.normal(1, 0.0015, times.size)
        shown = np.where(shown > 0, shown + self.offset_rpm, 0.0)
        steps = shown / self.step_rpm
        return np.asarray(self.step_rpm * (np.floor(steps) if self.cut else np.round(steps)))


def first_order(values: Floats, over_s: float) -> Floats:
    """Smooth by a filter of the first order."""
    keep, out, state = exp(-STEP_S / over_s), np.empty(values.size), float(values[0])
    for k, value in enumerate(values.tolist()):
        state = keep * state + (1 - keep) * value
        out[k] = state
    return out


def receiver(ridden: Ridden, times: Floats, smoothing: Smoothing, rng: np.random.Generator, delay_s: float) -> Floats:
    """Speed that a satellite receiver gives at these times, m/s: late, smoothed, and with errors that hang together."""
    speed, late = ridden.speed_mps, np.full(times.size, delay_s)
    if smoothing == "first order":
        speed = first_order(speed, float(rng.uniform(0.1, 0.6)))
    elif smoothing == "adaptive":
        speed = _adaptive(speed)
    elif smoothing == "constant velocity":
        speed = _constant_velocity(speed, float(rng.uniform(0.2, 0.6)))
    elif smoothing == "drifting delay":
        late = late + float(rng.uniform(0.05, 0.2)) * np.sin(
            2 * np.pi * times / rng.uniform(120, 400) + rng.uniform(0, 6)
        )
    shown = np.interp(times - late, ridden.time_s, speed)
    error = _hanging_together(times, float(rng.uniform(0.03, 0.12)), float(rng.uniform(0.5, 2.0)), rng)
    white = rng.normal(0, float(rng.uniform(0.01, 0.05)), times.size)
    return np.asarray(np.maximum(shown + np.where(shown > 0.3, error + white, 0.2 * np.abs(white)), 0.0))


def own_speed(
    ridden: Ridden,
    times: Floats,
    pick_up: PickUp,
    circumference_m: float,
    told: float,
    calibration: float,
    rng: np.random.Generator,
) -> Floats:
    """The machine's own speed, m/s; `told` is the final drive over the one that its computer was told of."""
    turns = ridden.wheel_hz * circumference_m
    true = {"gearbox": turns * told, "rear wheel": turns, "front wheel": ridden.speed_mps}[pick_up]
    smooth = first_order(true * calibration, float(rng.uniform(0.05, 0.3)))
    shown = np.interp(times - float(rng.uniform(0.05, 0.3)), ridden.time_s, smooth)
    return np.asarray(shown * rng.normal(1, 0.001, times.size))


def _adaptive(speed: Floats) -> Floats:
    """Smooth over 0.6 s at steady speed, over 0.1 s in hard acceleration."""
    out, state, slope = np.empty(speed.size), float(speed[0]), 0.0
    for k, value in enumerate(speed.tolist()):
        wanted = abs(value - state) / 0.3
        slope += (wanted - slope) * STEP_S / 0.2
        over_s = 0.1 + 0.5 / (1 + slope**2)
        state += (value - state) * STEP_S / over_s
        out[k] = state
    return out


def _constant_velocity(speed: Floats, over_s: float) -> Floats:
    """Track the speed with its slope: no lag in steady acceleration, an overshoot where that changes."""
    every = 10
    keep = exp(-every * STEP_S / over_s)
    gain, slope_gain = 1 - keep**2, (1 - keep) ** 2 / (every * STEP_S)
    state, slope, out = float(speed[0]), 0.0, np.empty(speed[::every].size)
    for k, value in enumerate(speed[::every].tolist()):
        ahead = state + slope * every * STEP_S
        state, slope = ahead + gain * (value - ahead), slope + slope_gain * (value - ahead)
        out[k] = state
    at = every * np.arange(out.size)
    return np.asarray(np.interp(np.arange(speed.size), at, np.maximum(out, 0.0)))


def _hanging_together(times: Floats, sd: float, over_s: float, rng: np.random.Generator) -> Floats:
    error, kicks = np.empty(times.size), rng.normal(0, sd, times.size)
    error[0] = kicks[0]
    for k in range(1, times.size):
        keep = exp(-(times[k] - times[k - 1]) / over_s)
        error[k] = keep * error[k - 1] + (1 - keep**2) ** 0.5 * kicks[k]
    return error
