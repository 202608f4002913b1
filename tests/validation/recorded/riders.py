"""Riders: what they do with throttle, clutch and pedal, and what they set out to do on a ride."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tests.validation.recorded.machines import AIR_KGM3, GRAVITY, Machine


@dataclass(frozen=True)
class Habits:
    """Shares are of the engine's limit; times in s, mean values that scatter by 15 % from one to the next."""

    throttle: float
    shift_hard: float
    shift_lazy: float
    shift_s: float
    let_in_s: float
    launch_s: float
    launch_share: float
    brisk_mps2: float
    clutch_early: bool


@dataclass(frozen=True)
class Act:
    """One thing to do: stand, cruise in a gear at a speed, or pull from rest up to a speed, for so long."""

    what: Literal["stand", "cruise", "pull"]
    seconds: float
    gear: int = 1
    speed_mps: float = 0.0
    throttle: float = 1.0
    longest_s: float = 99.0


def draw_habits(rng: np.random.Generator, throttle: float = 1.0, shift: float | None = None) -> Habits:
    """Draw a rider who opens the throttle up to `throttle` and shifts at `shift` of the limit when in a hurry."""
    hard = float(rng.uniform(0.82, 0.96)) if shift is None else shift
    return Habits(
        throttle=throttle,
        shift_hard=hard,
        shift_lazy=min(hard, float(rng.uniform(0.4, 0.6))),
        shift_s=float(rng.uniform(0.12, 0.45)),
        let_in_s=float(rng.uniform(0.08, 0.35)),
        launch_s=float(rng.uniform(0.8, 1.8)),
        launch_share=min(0.9 * hard, float(rng.uniform(0.35, 0.5))),
        brisk_mps2=float(rng.uniform(1.0, 2.2)),
        clutch_early=bool(rng.random() < 0.3),
    )


def plain_acts(machine: Machine, rng: np.random.Generator, seconds: float, highest: float) -> list[Act]:
    """Every gear several times, steady stretches of 5 to 25 s, a stop now and then."""
    acts, spent, deck = [Act("stand", float(rng.uniform(3, 15)))], 0.0, list[int]()
    fastest = 0.85 * top_speed(machine)
    while spent < seconds:
        if not deck:
            deck = [int(g) + 1 for g in rng.permutation(len(machine.gears))]
        gear = deck.pop()
        share = float(rng.uniform(0.28, min(0.62, highest)))
        speed = min(share * machine.limit_rpm * _way_per_turn(machine, gear), fastest, 38.0)
        acts.append(Act("cruise", float(rng.uniform(5, 25)), gear, speed))
        spent += acts[-1].seconds + 6.0
        if rng.random() < 0.15:
            acts.append(Act("stand", float(rng.uniform(2, 15))))
            spent += acts[-1].seconds + 6.0
    return acts


def hard_acts(machine: Machine, rng: np.random.Generator, seconds: float, highest: float, throttle: float) -> list[Act]:
    """Ordinary riding with a start through the gears every minute or so."""
    acts, spent = list[Act](), 0.0
    end = min(float(rng.uniform(29.5, 34)), 0.88 * top_speed(machine))
    while spent < seconds:
        part = plain_acts(machine, rng, float(rng.uniform(35, 70)), highest)[1:]
        acts += [Act("stand", float(rng.uniform(3, 8))), Act("pull", 30.0, 1, end, throttle), *part]
        spent += 38.0 + sum(act.seconds + 6.0 for act in part)
    return acts


def short_acts(machine: Machine, rng: np.random.Generator, seconds: float) -> list[Act]:
    """Each gear once."""
    stand = float(rng.uniform(1, 3))
    longest = (seconds - stand - 2.0) / len(machine.gears) - 0.5
    pull = Act("pull", seconds, len(machine.gears), 60.0, float(rng.uniform(0.45, 1.0)), longest)
    return [Act("stand", stand), pull, Act("stand", seconds)]


def top_speed(machine: Machine) -> float:
    """Speed at which the engine's highest power meets the resistance, m/s."""
    power = 0.93 * float((machine.full * machine.grid).max()) * np.pi / 30
    speed = np.linspace(5, 90, 400)
    resisting = machine.rolling * machine.mass_kg * GRAVITY + 0.5 * AIR_KGM3 * machine.drag_area_m2 * speed**2
    return float(speed[np.argmin(np.abs(resisting * speed - power))])


def _way_per_turn(machine: Machine, gear: int) -> float:
    return machine.circumference_m / (60 * float(machine.ratios[gear - 1]))
