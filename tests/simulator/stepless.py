"""A ride on a machine without stepped gears, for tests of what must not be found."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from tests.simulator.machine import Machine
from tests.simulator.motion import STEP_S
from tests.simulator.noise import correlated_noise
from tests.simulator.ride import TrueRide
from tests.simulator.road import Floats, Road

#: Time in which the drive takes up a new ratio.
_SETTLING_S: Final = 0.6
_SETTLING: Final = 1.0 - math.exp(-STEP_S / _SETTLING_S)


def cvt_ride(
    rng: np.random.Generator,
    machine: Machine,
    *,
    duration_s: float = 600.0,
    low_mps: float = 4.0,
    high_mps: float = 24.0,
    slip_sd: float = 0.03,
) -> TrueRide:
    """Ride in traffic with a belt drive whose ratio follows what the rider asks for.

    The engine aims at a speed between 35 % and 85 % of the limit that grows with the thrust, whatever the road speed;
    belt and clutch slip by a few per cent that wander. The ratio ends a quarter outside the machine's first and last
    overall ratio.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of everything random.
    machine : Machine
        For mass, drag, torque and limits; its gears bound the ratio and are never engaged.
    duration_s : float
        Length of the ride.
    low_mps, high_mps : float
        Bounds of the target speeds; one target in eight is a stop.
    slip_sd : float
        Standard deviation of the wandering whose magnitude is the slip.

    Returns
    -------
    TrueRide
        On a level road, with gear 0 throughout.
    """
    n = round(duration_s / STEP_S) + 1
    targets = _targets_mps(rng, n, low_mps, high_mps).tolist()
    slip = np.abs(correlated_noise(rng, n, STEP_S, slip_sd, 5.0)).tolist()
    inertia_kg = machine.mass_kg + machine.wheel_mass_kg
    speeds, rpms, thrusts, positions = ([0.0] * n for _ in range(4))
    speed = position = 0.0
    rpm = machine.idle_rpm
    for k in range(n):
        load_n = machine.road_load_n(speed)
        asked_n = load_n + inertia_kg * min(max(0.7 * (targets[k] - speed), -2.5), 2.2)
        thrust_n = min(max(asked_n, 0.0), _highest_thrust_n(machine, rpm, speed))
        rpm += _SETTLING * (_aimed_rpm(machine, speed, thrust_n, slip[k]) - rpm)
        speeds[k], rpms[k], thrusts[k], positions[k] = speed, rpm, thrust_n, position
        after = max(0.0, speed + (min(thrust_n, asked_n) - load_n) / inertia_kg * STEP_S)
        position += 0.5 * (speed + after) * STEP_S
        speed = after
    position_m = np.array(positions)
    road = Road()
    return TrueRide(
        machine=machine,
        road=road,
        time_s=np.arange(n, dtype=np.float64) * STEP_S,
        speed_mps=np.array(speeds),
        engine_rpm=np.array(rpms),
        gear=np.zeros(n, dtype=np.int64),
        thrust_n=np.array(thrusts),
        position_m=position_m,
        elevation_m=road.elevation_m(position_m),
    )


def _targets_mps(rng: np.random.Generator, n: int, low_mps: float, high_mps: float) -> Floats:
    """Return the speed that the rider aims at in each step, shape (n,): new every 6 to 20 s, and never quite steady."""
    targets = np.zeros(n)
    start = round(5.0 / STEP_S)
    while start < n:
        length = round(float(rng.uniform(6.0, 20.0)) / STEP_S)
        targets[start : start + length] = 0.0 if rng.random() < 0.125 else rng.uniform(low_mps, high_mps)
        start += length
    return targets * (1.0 + correlated_noise(rng, n, STEP_S, 0.03, 3.0))


def _highest_thrust_n(machine: Machine, engine_rpm: float, speed_mps: float) -> float:
    power_w = max(machine.torque_nm) * machine.efficiency * 2.0 * math.pi * engine_rpm / 60.0
    return power_w / max(speed_mps, 3.0)


def _aimed_rpm(machine: Machine, speed_mps: float, thrust_n: float, slip: float) -> float:
    share = min(1.0, thrust_n / (2.5 * machine.mass_kg))
    per_ratio = 60.0 * speed_mps / machine.circumference_m / (1.0 - slip)
    lowest, highest = machine.overall_ratios[-1] / 1.25 * per_ratio, machine.overall_ratios[0] * 1.25 * per_ratio
    return max(machine.idle_rpm, min(max(machine.limit_rpm * (0.35 + 0.5 * share), lowest), highest))
