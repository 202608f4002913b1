"""Invented tests ridden as planned, seen through the report's own fit."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from gearfit.comparison.shift import shift
from gearfit.fitting.levels import Levels, pool
from gearfit.fitting.sheet import fit_sheet
from gearfit.fitting.streams import Sheet
from gearfit.planning.noise import RECEIVER_SD_MPS, Noise, held_sd_rpm
from gearfit.planning.plan import GearPlan


def sheet_levels(
    gears: Sequence[GearPlan], factor: float, scale: float, step_mps: float, rng: np.random.Generator
) -> Levels:
    """Hold, read off a display of whole steps, and fit; `scale` is how far the true circumference is from nominal."""
    gear = np.concatenate([np.full(len(plan.hold_rpm), plan.gear) for plan in gears])
    shown = np.concatenate([plan.hold_rpm for plan in gears])
    nominal = np.concatenate([plan.now_mps for plan in gears])
    held_sd = np.array([held_sd_rpm(rpm) for rpm in shown])
    true = nominal * factor * scale * (1 + held_sd / shown * rng.standard_normal(shown.size))
    read = step_mps * np.round((true + RECEIVER_SD_MPS * rng.standard_normal(shown.size)) / step_mps)
    sheet = Sheet(
        rows=np.arange(shown.size),
        speed_mps=read,
        speed_sd_mps=np.full(shown.size, step_mps / math.sqrt(12)),
        engine_rpm=shown,
        rpm_sd_rpm=held_sd,
        stated_gear=gear.astype(float),
    )
    levels = fit_sheet(sheet, None, None).levels
    assert levels is not None
    return levels


def log_levels(gears: Sequence[GearPlan], factor: float, noise: Noise, rng: np.random.Generator) -> Levels:
    """Passages of a log whose own stated errors are a third of their scatter."""
    gear = np.concatenate([np.full(len(plan.hold_rpm), plan.gear) for plan in gears])
    nominal = np.concatenate([np.log(np.array(plan.hold_rpm) / np.array(plan.now_mps)) for plan in gears])
    level = nominal - math.log(factor) + noise.passage_sd * rng.standard_normal(gear.size)
    return pool(level, np.full(gear.size, (noise.passage_sd / 3) ** 2), gear, np.ones(gear.size, dtype=np.int64))


def share_told(
    gears: Sequence[GearPlan],
    noise: Noise,
    change_percent: float,
    times: int,
    seed: int,
    circumference_sd: float = 0.02,
) -> NDArray[np.float64]:
    """Ride the plan `times` times; return for each gear how often the interval of its change leaves out no change."""
    rng = np.random.default_rng(seed)
    told = np.zeros(len(gears))
    for _ in range(times):
        scale = 1 + circumference_sd * float(rng.standard_normal())
        both = []
        for factor in (1.0, 1 + change_percent / 100):
            if noise.kind == "display":
                both.append(sheet_levels(gears, factor, scale, noise.step_mps, rng))
            else:
                both.append(log_levels(gears, factor, noise, rng))
        moved = shift(both[0], both[1], change_percent)
        told += [not gear.change_percent.contains(0.0) for gear in moved.gears]
    return told / times
