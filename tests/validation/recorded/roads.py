"""A road with slope and bends, and the wind of a day."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Distance between the points of a road, m, and its length; nobody rides further.
SPACING_M = 5.0
LENGTH_M = 60_000.0


@dataclass(frozen=True, eq=False)
class Road:
    """Slope (rise over way), heading (rad) and steady head wind (m/s) at each point; gusts by the second."""

    slope: Floats
    heading: Floats
    wind_mps: Floats
    gust_mps: Floats


def level() -> Road:
    """A road without slope on a day without wind."""
    nothing = np.zeros(int(LENGTH_M / SPACING_M))
    return Road(nothing, nothing, nothing, np.zeros(4000))


def draw_road(rng: np.random.Generator) -> Road:
    """Draw a road and its wind."""
    way = np.arange(0, LENGTH_M, SPACING_M)
    slope, heading = np.zeros(way.size), np.full(way.size, float(rng.uniform(0, 2 * np.pi)))
    for _ in range(5):
        length, phase = float(rng.uniform(300, 3000)), float(rng.uniform(0, 2 * np.pi))
        slope += float(rng.uniform(0, 0.012)) * np.sin(2 * np.pi * way / length + phase)
        heading += float(rng.uniform(0, 0.6)) * np.sin(2 * np.pi * way / length + 2 * phase)
    return another_day(Road(slope, heading, way, way), rng)


def another_day(road: Road, rng: np.random.Generator) -> Road:
    """The same road in another wind."""
    blows, strength = float(rng.uniform(0, 2 * np.pi)), float(rng.uniform(0, 4))
    gusts = np.zeros(4000)
    for k in range(1, gusts.size):
        gusts[k] = 0.8 * gusts[k - 1] + float(rng.normal(0, 0.15 * strength))
    return replace(road, wind_mps=strength * np.cos(road.heading - blows), gust_mps=gusts)
