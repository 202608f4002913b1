"""The road: hills and bends as sums of waves, so that slope, height and heading are exact functions of the way."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Wave:
    """One wave along the way: `amplitude` sin(2 pi x / `length_m` + `phase_rad`)."""

    amplitude: float
    length_m: float
    phase_rad: float


@dataclass(frozen=True)
class Road:
    """Hills (waves of height, metres) and bends (waves of heading, radians) about a mean heading."""

    hills: tuple[Wave, ...] = ()
    bends: tuple[Wave, ...] = (Wave(0.6, 5200.0, 0.0), Wave(0.25, 1700.0, 1.0))
    heading_rad: float = 0.9

    def grade(self, position_m: float) -> float:
        """Rise over way at a position."""
        total = 0.0
        for hill in self.hills:
            k = 2.0 * math.pi / hill.length_m
            total += hill.amplitude * k * math.cos(k * position_m + hill.phase_rad)
        return total

    def elevation_m(self, position_m: Floats) -> Floats:
        """Height at positions, shape (n,)."""
        return 20.0 + _sum(self.hills, position_m)

    def heading_at_rad(self, position_m: Floats) -> Floats:
        """Heading clockwise from north at positions, shape (n,)."""
        return self.heading_rad + _sum(self.bends, position_m)


def _sum(waves: tuple[Wave, ...], position_m: Floats) -> Floats:
    total = np.zeros_like(position_m)
    for wave in waves:
        total += wave.amplitude * np.sin(2.0 * math.pi * position_m / wave.length_m + wave.phase_rad)
    return total


def hilly_road(rng: np.random.Generator, grade_sd: float = 0.015) -> Road:
    """Return a road whose grade has the standard deviation `grade_sd`, shared by three waves of 0.4 to 3 km."""
    each = grade_sd * math.sqrt(2.0 / 3.0)
    lengths_m = (rng.uniform(400.0, 700.0), rng.uniform(900.0, 1500.0), rng.uniform(2000.0, 3000.0))
    hills = tuple(
        Wave(each * length_m / (2.0 * math.pi), float(length_m), float(rng.uniform(0.0, 2.0 * math.pi)))
        for length_m in lengths_m
    )
    return Road(hills=hills)
