"""A belt variator: its ratio slides between two stops and rests on each of them for long."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np

from tests.validation.recorded.machines import AIR_KGM3, GRAVITY, Machine
from tests.validation.recorded.ride import EFFICIENCY, RAD_PER_RPM, STEP_S, WHEELS_KG, Ridden
from tests.validation.recorded.riders import Act
from tests.validation.recorded.roads import SPACING_M, Road

#: Ratio at the start over ratio at speed, and how fast the belt follows, s.
RANGE = 2.4
BELT_S = 0.4
#: Speed at which the belt rests on its last stop with the engine at this share of its limit, m/s.
RESTS_MPS, RESTS_SHARE = 26.0, 0.62


def variator_acts(rng: np.random.Generator, seconds: float) -> list[Act]:
    """Town and country: slow stretches, fast ones, stops."""
    acts, spent = [Act("stand", 5.0)], 0.0
    while spent < seconds:
        speed = float(rng.uniform(4, 9) if rng.random() < 0.4 else rng.uniform(10, 28))
        acts.append(Act("cruise", float(rng.uniform(8, 30)), 1, speed))
        if rng.random() < 0.25:
            acts.append(Act("stand", float(rng.uniform(3, 12))))
        spent += acts[-1].seconds + 6.0
    return acts


def ride_variator(
    machine: Machine, acts: Sequence[Act], road: Road, rng: np.random.Generator, final: float = 1.0
) -> Ridden:
    """Ride the acts; `final` is the final drive over that of the machine as drawn."""
    radius = machine.circumference_m / (2 * pi)
    limit, idle = machine.limit_rpm * RAD_PER_RPM, machine.idle_rpm * RAD_PER_RPM
    high = RESTS_SHARE * limit * radius / RESTS_MPS * final
    low, peak = RANGE * high, float(machine.full.max())
    speed = way = share = 0.0
    rows: list[tuple[float, float, float]] = []
    ratio, phase = low, float(rng.uniform(0, 6))
    for act in acts:
        end = len(rows) + round((act.seconds + (4.0 if act.what == "cruise" else 8.0)) / STEP_S)
        while len(rows) < end:
            time = len(rows) * STEP_S
            target = act.speed_mps * (1 + 0.01 * float(np.sin(time / 2.3 + phase)))
            wanted = min(max(0.6 * (target - speed), -2.2), 1.8)
            at = min(int(way / SPACING_M), road.slope.size - 1)
            air = speed + road.wind_mps[at] + road.gust_mps[min(int(time), road.gust_mps.size - 1)]
            load = 0.5 * AIR_KGM3 * machine.drag_area_m2 * air * abs(air)
            load += machine.mass_kg * GRAVITY * (machine.rolling + road.slope[at])
            force = machine.mass_kg * wanted + load
            power = max(force, 0.0) * speed
            share += (min(1.0, power / (0.7 * peak * 0.6 * limit) + 0.15 * (wanted > 0.3)) - share) * STEP_S / 0.3
            governed = (0.48 + 0.3 * share) * limit
            aim = min(max(governed * radius / max(speed, 0.1), high), low)
            ratio += (aim - ratio) * STEP_S / BELT_S
            engine = speed * ratio / radius
            gripping = 0.34 * limit
            omega = max(engine, gripping if target > 0.5 and wanted > 0 else idle)
            thrust = min(force, 0.8 * peak * low / high * ratio / radius * EFFICIENCY / 2)
            if force < 0:
                thrust = force
            speed = max(0.0, speed + STEP_S * (thrust - load) / (machine.mass_kg + WHEELS_KG))
            if target == 0.0 and speed < 0.05:
                speed = 0.0
            way += STEP_S * speed
            rows.append((speed, omega / RAD_PER_RPM, way))
    columns = np.array(rows)
    none = np.zeros(len(rows), dtype=np.int64)
    wheel = columns[:, 0] / machine.circumference_m
    times = np.asarray(STEP_S * np.arange(len(rows)), dtype=np.float64)
    return Ridden(times, columns[:, 0], columns[:, 1], none, wheel, columns[:, 2], road)
