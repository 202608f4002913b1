"""What was ridden and read: held engine speeds or road speeds, with the person's scatter and rounding."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from gearfit.units import (MPS_PER_KMH, MPS_PER_MPH)
from tests.validation.notebooks.bikes import Bike
from tests.validation.notebooks.choices import Choices

#: Engine speeds that nobody holds in a test: below the drive snatches, above it is not done for minutes.
LOWEST_RPM: Final = 1800
HIGHEST_RPM: Final = 7500
STEP: Final = {"1": 1.0, "5": 5.0, "half": 0.5}


@dataclass(frozen=True)
class Row:
    """One reading as noted; what is not noted is None."""

    #: The gear that was engaged.
    true_gear: int
    gear: int | None
    rpm: float
    speed: float
    #: The receiver's speed, where the speedometer's is noted beside it.
    beside: float | None = None
    #: What went wrong with this row; empty where nothing.
    slip: str = ""


@dataclass(frozen=True)
class Instrument:
    """Where the speeds come from, the same on both rides."""

    #: What a speedometer shows over the speed it means; 1 for a receiver.
    gain: float
    noise_kmh: float
    from_gearbox: bool


def draw_instrument(rng: np.random.Generator, choices: Choices) -> Instrument:
    """Draw receiver or speedometer; one on the gearbox was right, but for its gain, for the first sprockets."""
    over = float(rng.uniform(0.02, 0.09))
    gain = 1.0 if choices.speeds == "satellite" else 1 + over
    return Instrument(gain, float(rng.uniform(0.1, 0.3)), choices.speeds.endswith("the gearbox"))


def shown_per_1000rpm_mps(bike: Bike, ride: int, instrument: Instrument) -> np.ndarray:
    """Speed shown in each gear where the tachometer shows 1000 rev/min."""
    return instrument.gain * bike.speed_per_1000rpm_mps(0 if instrument.from_gearbox else ride)


def targets(rng: np.random.Generator, bike: Bike, choices: Choices) -> list[tuple[int, float]]:
    """Gear and what is held in it (rev/min, or speed in the person's unit), planned once for both rides."""
    top = len(bike.gears)
    gears = range(1 if choices.ridden == "all" else int(rng.integers(2, top - 1)), top + 1)
    if choices.held == "one rpm a gear":
        held = {gear: [float(rng.integers(10, 22) * 250)] for gear in gears}
    elif choices.held == "same rpm":
        some = sorted(rng.choice([3000, 4000, 5000], int(rng.integers(1, 4)), replace=False))
        held = {gear: [float(rpm) for rpm in some] for gear in gears}
    else:
        held = {gear: _speeds(bike, gear, choices) for gear in gears}
    return [(gear, held[gear][k % len(held[gear])]) for gear in gears if held[gear] for k in range(choices.readings)]


def _speeds(bike: Bike, gear: int, choices: Choices) -> list[float]:
    """Round speeds that are possible in a gear with the sprockets of both rides."""
    usual = np.arange(20, 75, 10) if choices.mph else np.arange(30, 125, 10)
    rpm = np.array([usual * unit_mps(choices) / bike.speed_per_1000rpm_mps(r)[gear - 1] * 1000 for r in (0, 1)])
    return [float(v) for v in usual[(rpm.min(0) > LOWEST_RPM) & (rpm.max(0) < HIGHEST_RPM)][:3]]


def unit_mps(choices: Choices) -> float:
    """The person's unit of speed."""
    return MPS_PER_MPH if choices.mph else MPS_PER_KMH


def ride(
    rng: np.random.Generator,
    bike: Bike,
    which: int,
    instrument: Instrument,
    choices: Choices,
    plan: list[tuple[int, float]],
) -> list[Row]:
    """Ride the plan once on ride 0 or 1 and note the readings."""
    gear = np.array([g for g, _ in plan])
    target = np.array([t for _, t in plan])
    unit = unit_mps(choices)
    step = STEP[choices.read_to]
    road = bike.speed_per_1000rpm_mps(which)[gear - 1] / 1000
    shown = shown_per_1000rpm_mps(bike, which, instrument)[gear - 1] / 1000
    held = target * (1 + rng.normal(0, choices.scatter, len(plan)))
    noise = rng.normal(0, instrument.noise_kmh, len(plan)) * MPS_PER_KMH
    if choices.held == "same speed":
        speed = target
        rpm = np.rint(held * unit / shown / choices.rpm_step) * choices.rpm_step
        true_mps = held * unit / shown * road
    else:
        rpm = target
        speed = read((held * shown + noise) / unit, step, choices.cut == "cut")
        true_mps = held * road
    receiver = read((true_mps + noise) / unit, min(step, 1.0), False)
    return [
        Row(int(g), int(g), float(n), float(v), float(b) if choices.speeds == "both" else None)
        for g, n, v, b in zip(gear, rpm, speed, receiver, strict=True)
    ]


def read(value: np.ndarray, step: float, cut: bool) -> np.ndarray:
    """Read an instrument to a step, to the nearest or to the one below."""
    return np.asarray((np.floor if cut else np.rint)(value / step) * step)
