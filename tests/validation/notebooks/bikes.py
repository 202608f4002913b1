"""Invented bikes: gears that step as real gearboxes do, with whole teeth; tyre, tachometer, sprockets of both rides."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

Teeth: TypeAlias = tuple[int, int]

#: Size code, with width [mm], height over width and rim [inch] as it states them.
TYRES: Final = {
    "140/70-17": (140, 0.70, 17),
    "150/70-17": (150, 0.70, 17),
    "130/80-17": (130, 0.80, 17),
    "160/60 R17": (160, 0.60, 17),
    "120/90-18": (120, 0.90, 18),
}
#: A loaded tyre rolls a little less than its free circumference (common practice, no source; the spread of a
#: percent below covers what this figure leaves open).
ROLLS: Final = 0.985
MM_PER_INCH: Final = 25.4


@dataclass(frozen=True)
class Bike:
    """A machine; every pair of teeth is driven, driving, but sprockets are front, rear as riders say them."""

    primary: Teeth
    gears: tuple[Teeth, ...]
    #: Sprockets before and after the work.
    sprockets: tuple[Teeth, Teeth]
    tyre: str
    #: True rolling circumference on the ride before and on that after [m].
    circumference_m: tuple[float, float]
    #: Engine speed that the tachometer shows, over the true one.
    tacho: float

    def overall(self, ride: int) -> np.ndarray:
        """Engine turns for a turn of the wheel in each gear, on ride 0 (before) or 1 (after)."""
        front, rear = self.sprockets[ride]
        return np.array([driven / driving for driven, driving in self.gears]) * _ratio(self.primary) * rear / front

    def speed_per_1000rpm_mps(self, ride: int) -> np.ndarray:
        """True road speed in each gear where the tachometer shows 1000 rev/min."""
        return self.circumference_m[ride] * 1000 / 60 / self.tacho / self.overall(ride)


def draw_bike(rng: np.random.Generator, change: str) -> Bike:
    """Draw a bike whose final drive is changed at the `front`, the `rear`, at `both` or at `none`."""
    front = int(rng.integers(13, 18))
    rear = int(rng.integers(38, 51))
    driving = int(rng.integers(22, 33))
    primary = (round(rng.uniform(5.0, 7.0) / (rear / front) * driving), driving)
    tyre = list(TYRES)[rng.integers(len(TYRES))]
    rolls = _circumference_m(tyre) * (1 + rng.normal(0, 0.01)) * (1 - rng.uniform(0, 0.015))
    each = rolls * (1 + rng.normal(0, rng.uniform(0.001, 0.0015), 2))
    return Bike(
        primary,
        _gears(rng),
        ((front, rear), changed(rng, (front, rear), change)),
        tyre,
        (float(each[0]), float(each[1])),
        1 + float(rng.uniform(0, 0.03)) * (1 if rng.random() < 0.8 else -1),
    )


def changed(rng: np.random.Generator, sprockets: Teeth, change: str) -> Teeth:
    """Return other sprockets: one tooth at the front, one to three at the rear."""
    front, rear = sprockets
    if change in ("front", "both"):
        front += int(rng.choice([-1, 1]))
    if change in ("rear", "both"):
        rear += int(rng.choice([-3, -2, -1, 1, 2, 3]))
    return front, rear


def _gears(rng: np.random.Generator) -> tuple[Teeth, ...]:
    """Ratios from first to top whose steps become smaller, on shafts at a fixed distance."""
    n = int(rng.integers(4, 7))
    first, top = rng.uniform(2.3, 3.0) - (6 - n) * 0.1, rng.uniform(0.85, 1.1)
    steps = np.linspace(1.5 + rng.uniform(0, 0.4), 1.0, n - 1)
    steps *= math.log(first / top) / steps.sum()
    ratios = first * np.exp(-np.concatenate(([0.0], np.cumsum(steps))))
    teeth = int(rng.integers(46, 58))
    driving = np.rint(teeth / (1 + ratios)).astype(int)
    return tuple((round(float(r) * int(d)), int(d)) for r, d in zip(ratios, driving, strict=True))


def _circumference_m(tyre: str) -> float:
    width, height, rim = TYRES[tyre]
    return ROLLS * math.pi * (rim * MM_PER_INCH + 2 * width * height) / 1000


def _ratio(teeth: Teeth) -> float:
    return teeth[0] / teeth[1]
