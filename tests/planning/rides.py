"""Invented tests ridden as planned, seen through the report's own fit."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from gearfit.comparison.shift import shift
from gearfit.fitting.pairing.material import Sheet
from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.readings.sheet import Placed, fit_sheets
from gearfit.fitting.which_gear.ladder import Ladder
from gearfit.prediction.planning.noise import COARSEST_RPM, RECEIVER_SD_MPS, Noise
from gearfit.prediction.planning.plan import GearPlan


def sheet_levels(
    gears: Sequence[GearPlan], factors: Sequence[float], ladder: Ladder | None, noise: Noise, rng: np.random.Generator
) -> list[Levels]:
    """Hold, read off a display of whole steps, and fit all setups together.

    `factors` are how far the road speeds of each setup are from the plan's, `ladder` its teeth.
    """
    gear = np.concatenate([np.full(len(plan.hold_rpm), plan.gear) for plan in gears])
    shown = np.concatenate([plan.hold_rpm for plan in gears])
    nominal = np.concatenate([plan.now_mps for plan in gears])
    placed = []
    for factor in factors:
        held = shown * np.exp(noise.scatter * rng.standard_normal(shown.size))
        true = nominal * factor * (held + COARSEST_RPM * rng.uniform(-0.5, 0.5, shown.size)) / shown
        displayed = true + RECEIVER_SD_MPS * rng.standard_normal(shown.size)
        sheet = Sheet(
            rows=np.arange(shown.size),
            speed_mps=noise.step_mps * np.maximum(np.round(displayed / noise.step_mps), 1),
            speed_sd_mps=np.full(shown.size, noise.step_mps / math.sqrt(12)),
            engine_rpm=shown,
            rpm_sd_rpm=np.full(shown.size, COARSEST_RPM / math.sqrt(12)),
            stated_gear=gear.astype(float),
            speed_step_mps=np.full(shown.size, noise.step_mps),
            rpm_step_rpm=np.full(shown.size, COARSEST_RPM),
        )
        placed.append(Placed(sheet, np.zeros(shown.size, dtype=bool), gear, ladder, None))
    levels = [fit.levels for fit in fit_sheets(placed)]
    return [found for found in levels if found is not None]


def log_levels(gears: Sequence[GearPlan], factor: float, noise: Noise, rng: np.random.Generator) -> Levels:
    """Passages of a log as the fit of logs weighs them: widened to the scatter of all gears about their means."""
    gear = np.concatenate([np.full(len(plan.hold_rpm), plan.gear) for plan in gears])
    nominal = np.concatenate([np.log(np.array(plan.hold_rpm) / np.array(plan.now_mps)) for plan in gears])
    level = nominal - math.log(factor) + noise.scatter * rng.standard_normal(gear.size)
    labels, member, count = np.unique(gear, return_inverse=True, return_counts=True)
    mean = np.bincount(member, level) / count
    dof = gear.size - labels.size
    variance = float(np.sum((level - mean[member]) ** 2)) / dof
    return Levels(labels, mean, np.diag(variance / count), max(dof, 3), count, count)


def share_told(
    gears: Sequence[GearPlan],
    noise: Noise,
    change_percent: float,
    times: int,
    seed: int,
    circumference_sd: float = 0.02,
    ladder: Ladder | None = None,
) -> NDArray[np.float64]:
    """Ride the plan `times` times; return for each gear how often the interval of its change leaves out no change."""
    rng = np.random.default_rng(seed)
    told = np.zeros(len(gears))
    for _ in range(times):
        scale = 1 + circumference_sd * float(rng.standard_normal())
        factors = (scale, scale * (1 + change_percent / 100))
        if noise.kind == "display":
            before, after = sheet_levels(gears, factors, ladder, noise, rng)
        else:
            before, after = (log_levels(gears, factor, noise, rng) for factor in factors)
        # A gear whose only reading was set aside is missing, and shows nothing.
        shown = {
            gear.gear for gear in shift(before, after, change_percent).gears if not gear.change_percent.contains(0.0)
        }
        told += [gear.gear in shown for gear in gears]
    return told / times
