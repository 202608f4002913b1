"""Invented motorcycles, drawn at random: none of them exists."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Sizes of the driven tyre, mm, per cent and inches.
TYRES: Final = ((110, 80, 17), (120, 80, 18), (130, 70, 18), (140, 70, 17), (150, 70, 17), (160, 60, 17), (180, 55, 17))
#: Teeth of both wheels of a pair of gears together.
PAIR_TEETH: Final = 54
#: Two neighbouring gears differ by this at least, ln ratio.
LEAST_STEP: Final = 0.07
#: Air, kg/m3 (15 degrees Celsius at sea level in the ISO standard atmosphere, ISO 2533, rounded).
AIR_KGM3: Final = 1.22
GRAVITY: Final = 9.81


@dataclass(frozen=True, eq=False)
class Machine:
    """A motorcycle with its rider on it; `full` is the highest torque on `grid` of engine speeds, N m over rev/min."""

    primary: tuple[int, int]
    gears: tuple[tuple[int, int], ...]
    front: int
    rear: int
    tyre: tuple[int, int, int]
    circumference_m: float
    mass_kg: float
    drag_area_m2: float
    rolling: float
    limit_rpm: float
    idle_rpm: float
    grid: Floats
    full: Floats
    inertia_kgm2: float
    #: The wheel turns faster than the road by this share for a thrust of the whole weight.
    slip: float
    #: The tyre grows by this share at 50 m/s.
    growth: float
    #: Thrust over weight that the rider never exceeds, since wheel or grip would give way.
    most_thrust: float
    #: Whether the throttle is a plate, which hardly matters at low engine speed once half open.
    plate: bool

    @property
    def ratios(self) -> Floats:
        """Overall ratio of each gear."""
        final = self.primary[0] / self.primary[1] * self.rear / self.front
        return np.array([driven / driving for driven, driving in self.gears]) * final

    @property
    def nominal_m(self) -> float:
        """Circumference by the size of the tyre."""
        width, aspect, rim = self.tyre
        return float(np.pi * (25.4 * rim + 2 * width * aspect / 100) / 1000)


def draw_machine(rng: np.random.Generator, *, peaky: bool = False, soft: bool = False, light: bool = False) -> Machine:
    """Draw a motorcycle.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of everything random.
    peaky, soft, light : bool
        A torque curve with a hole and a peak; an engine too weak for the first gear to be held back; a front wheel that
        comes up.
    """
    gears = _gears(rng)
    tyre = TYRES[int(rng.integers(len(TYRES)))]
    front, final = int(rng.integers(13, 18)), float(rng.uniform(2.5, 3.4))
    rear, driving = round(final * front), int(rng.integers(30, 40))
    top = float(rng.uniform(4.6, 6.2))
    primary = (round(top / (gears[-1][0] / gears[-1][1]) / (rear / front) * driving), driving)
    limit, mass = float(rng.uniform(8000, 12500)), float(rng.uniform(190, 320))
    strength = float(rng.uniform(0.10, 0.14) if soft else rng.uniform(0.17, 0.26) if light else rng.uniform(0.12, 0.22))
    grid = np.linspace(0, 1.1 * limit, 221)
    width, aspect, rim = tyre
    return Machine(
        primary=primary,
        gears=gears,
        front=front,
        rear=rear,
        tyre=tyre,
        circumference_m=float(np.pi * (25.4 * rim + 2 * width * aspect / 100) / 1000 * rng.normal(0.975, 0.008)),
        mass_kg=mass,
        drag_area_m2=float(rng.uniform(0.35, 0.6)),
        rolling=float(rng.uniform(0.012, 0.022)),
        limit_rpm=limit,
        idle_rpm=float(rng.uniform(1100, 1600)),
        grid=grid,
        full=mass * strength * _curve(grid / limit, rng, peaky),
        inertia_kgm2=float(rng.uniform(0.006, 0.014)),
        slip=float(rng.uniform(0.003, 0.012)),
        growth=float(rng.uniform(0.0, 0.004)),
        most_thrust=float(rng.uniform(0.5, 0.75) if light else rng.uniform(0.8, 1.0)),
        plate=bool(rng.random() < 0.5),
    )


def _gears(rng: np.random.Generator) -> tuple[tuple[int, int], ...]:
    """Draw four to six pairs of teeth whose steps shrink upwards."""
    while True:
        count = int(rng.choice([4, 5, 5, 6, 6, 6]))
        first, last = float(rng.uniform(1.35, 1.6)), float(rng.uniform(1.1, 1.2))
        steps = first * (last / first) ** np.linspace(0, 1, count - 1) * rng.normal(1, 0.01, count - 1)
        ratios = float(rng.uniform(0.85, 1.1)) * np.append(np.cumprod(steps[::-1])[::-1], 1.0)
        driving = np.round(PAIR_TEETH / (1 + ratios)).astype(int)
        pairs = tuple((PAIR_TEETH - int(d), int(d)) for d in driving)
        found = np.diff(np.log([driven / d for driven, d in pairs]))
        if (found < -LEAST_STEP).all():
            return pairs


def _curve(share: Floats, rng: np.random.Generator, peaky: bool) -> Floats:
    """Torque over its highest value, by engine speed over the limit."""
    at, bend = float(rng.uniform(0.55, 0.75)), float(rng.uniform(0.7, 1.3))
    curve = 1 - bend * (share - at) ** 2
    if peaky:
        hole, peak = float(rng.uniform(0.35, 0.5)), float(rng.uniform(0.72, 0.82))
        curve = curve * (
            0.75 - 0.2 * np.exp(-(((share - hole) / 0.08) ** 2)) + 0.3 * np.exp(-(((share - peak) / 0.12) ** 2))
        )
    used = (share > 0.15) & (share < 1.0)
    return np.asarray(np.clip(curve, 0.2, None) / curve[used].max() * (share < 1.01))
