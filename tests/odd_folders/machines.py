"""Invented machines, and rides on them as plain numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SETUPS: Final = ("before", "after")


@dataclass(frozen=True)
class Machine:
    """A machine with its sprockets of both setups (front, rear)."""

    primary: float
    gears: tuple[float, ...]
    sprockets: tuple[tuple[int, int], tuple[int, int]]
    circumference_m: float

    def per_rpm_mps(self, which: int) -> Floats:
        """Road speed for each rev/min in each gear."""
        front, rear = self.sprockets[which]
        return np.asarray(self.circumference_m / 60 / (np.array(self.gears) * self.primary * rear / front))


@dataclass(frozen=True)
class Ride:
    """A ride row by row; gear 0 is a standstill."""

    time_s: Floats
    gear: NDArray[np.int64]
    rpm: Floats
    speed_mps: Floats


def draw_machine(rng: np.random.Generator) -> Machine:
    """Draw a machine of one to eight gears."""
    count = int(rng.choice([1, 2, 3, 4, 5, 6, 7, 8], p=[0.03, 0.03, 0.04, 0.1, 0.3, 0.44, 0.03, 0.03]))
    first = float(rng.uniform(2.2, 3.2))
    steps = np.linspace(1.6, 1.1, max(count - 1, 1))[: count - 1]
    gears = first / np.concatenate(([1.0], np.cumprod(steps)))
    front, rear = int(rng.integers(12, 19)), int(rng.integers(36, 54))
    other = (front + int(rng.integers(-2, 3)), rear + int(rng.integers(-4, 5)))
    return Machine(
        round(float(rng.uniform(1.6, 3.2)), 3),
        tuple(float(round(gear, 3)) for gear in gears),
        ((front, rear), other),
        float(rng.uniform(1.7, 2.2)),
    )


def held(rng: np.random.Generator, machine: Machine, which: int, scatter: float) -> Ride:
    """Draw readings of engine speeds held in the gears, one row each."""
    count = len(machine.gears)
    used = np.flatnonzero(rng.random(count) < 0.85)
    used = used if used.size else np.array([count - 1])
    gear = np.repeat(used, int(rng.integers(1, 7)))
    rpm = rng.integers(8, 32, gear.size) * 250.0
    speed = machine.per_rpm_mps(which)[gear] * rpm * (1 + rng.normal(0, scatter, gear.size))
    return Ride(np.arange(gear.size, dtype=np.float64) * 20, gear + 1, np.asarray(rpm, np.float64), speed)


def ridden(rng: np.random.Generator, machine: Machine, which: int, rate_hz: float, seconds: float) -> Ride:
    """Draw a ride: up through the gears, held, standing still, and again."""
    per_rpm, rows = machine.per_rpm_mps(which), max(2, int(seconds * rate_hz))
    gear, rpm = np.zeros(rows, int), np.full(rows, 1200.0)
    at = 0
    while at < rows:
        at += int(rng.uniform(2, 8) * rate_hz) + 1
        for number in range(1, int(rng.integers(1, len(machine.gears) + 1)) + 1):
            length = int(rng.uniform(3, 15) * rate_hz) + 1
            end = min(at + length, rows)
            low, high = sorted(rng.uniform(2500, 9000, 2)) if rng.random() < 0.7 else (5000.0, 5010.0)
            gear[at:end], rpm[at:end] = number, np.linspace(low, high, length)[: max(end - at, 0)]
            at = end + int(rng.uniform(0, 1) * rate_hz)
    speed = np.where(gear > 0, per_rpm[np.maximum(gear, 1) - 1] * rpm, 0.0)
    noisy = np.maximum(speed + rng.normal(0, 0.08, rows) * (speed > 0), 0)
    return Ride(np.arange(rows) / rate_hz, gear, rpm + rng.normal(0, 8, rows), noisy)
