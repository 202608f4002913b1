"""A run through the gears on paper: launch, gears, shifts, target; for n curves at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gearfit.thrust.clock import STEP_MPS, Clock
from gearfit.thrust.machine import Machine
from gearfit.thrust.resistance import after_coasting_mps

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Launch:
    """Start with the clutch slipping: even thrust up to the speed at which first gear is in.

    Attributes
    ----------
    engaged_rpm : (n,) float
        Engine speed at which the clutch is in.
    thrust_mps2 : (n,) float
        Thrust per mass up to then, with the gearing in which it was seen.
    held_back : (n,) bool
        Whether grip or the front wheel held it back: then it is no stronger with another gearing.
    """

    engaged_rpm: FloatArray
    thrust_mps2: FloatArray
    held_back: NDArray[np.bool_] | bool = False


@dataclass(frozen=True, eq=False)
class Rule:
    """How the rider changes up: engine speed on leaving each gear (n, gears) and time without drive (n,)."""

    shift_rpm: FloatArray
    shift_s: FloatArray


@dataclass(frozen=True, eq=False)
class Way:
    """Moments of a run: `begin_s` and `begin_mps` when each gear takes hold, `end_*` when it is left, (n, gears)."""

    begin_s: FloatArray
    begin_mps: FloatArray
    end_s: FloatArray
    end_mps: FloatArray
    launch_mps2: FloatArray


def launch_mps2(machine: Machine, launch: Launch, gain: float) -> tuple[FloatArray, FloatArray]:
    """Acceleration while the clutch slips, and the mean air resistance per mass in it; (n,) each.

    The mean of b v^2 over an even rise to v is b v^2 / 3.
    """
    drive = np.minimum(gain * launch.thrust_mps2, machine.cap_mps2)
    drive = np.where(launch.held_back, np.minimum(gain, 1.0) * launch.thrust_mps2, drive)
    air = machine.air_per_m * (launch.engaged_rpm * machine.speed_per_rpm_mps[0]) ** 2 / 3
    pull = (drive - machine.rolling_mps2 - air) / (1 + machine.wheels)
    return np.minimum(pull, machine.allowed_mps2(air[:, None])[:, 0]), air


def through_the_gears(machine: Machine, clocks: tuple[Clock, ...], rule: Rule, launch: Launch, gain: float) -> Way:
    """Follow a standing start through all gears.

    Parameters
    ----------
    machine : Machine
        With the gearing ridden.
    clocks : tuple of Clock
        Of that machine.
    rule : Rule
        How it is shifted.
    launch : Launch
        As seen with the gearing of the ride.
    gain : float
        Thrust at the same engine torque against that gearing: the launch is stronger by this, up to the cap.
    """
    n, count = machine.torque_per_kg.shape[0], len(machine.speed_per_rpm_mps)
    begin_s, begin, end_s, end = (np.full((n, count), np.inf) for _ in range(4))
    speed = launch.engaged_rpm * machine.speed_per_rpm_mps[0]
    pull, _ = launch_mps2(machine, launch, gain)
    now = np.where(pull > 0, speed / np.where(pull > 0, pull, 1.0), np.inf)
    for gear in range(1, count + 1):
        begin_s[:, gear - 1], begin[:, gear - 1] = now, speed
        if gear == count:
            break
        per_rpm = machine.speed_per_rpm_mps[gear - 1]
        # The table ends with the last step below the limit.
        highest = np.floor(machine.limit_rpm * per_rpm / STEP_MPS) * STEP_MPS
        left = np.maximum(speed, np.minimum(rule.shift_rpm[:, gear - 1] * per_rpm, highest))
        now = now + _between(clocks[gear - 1], speed, left)
        end_s[:, gear - 1], end[:, gear - 1] = now, left
        free = 1 + machine.wheels
        speed = after_coasting_mps(left, machine.rolling_mps2 / free, machine.air_per_m / free, rule.shift_s)
        now = now + rule.shift_s
    return Way(begin_s, begin, end_s, end, pull)


def _between(table: Clock, low: FloatArray, high: FloatArray) -> FloatArray:
    upper, lower = table.at(high), table.at(low)
    return np.where(np.isfinite(upper), upper - np.where(np.isfinite(lower), lower, 0.0), np.inf)


def first_time_s(way: Way, clocks: tuple[Clock, ...], target_mps: float) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return when each curve first reaches a speed, and in which gear; infinite and 0 where it does not."""
    n, count = way.begin_s.shape
    found, gear_of = np.full(n, np.inf), np.zeros(n, dtype=np.int64)
    in_launch = target_mps <= way.begin_mps[:, 0]
    found[in_launch] = target_mps / way.launch_mps2[in_launch]
    gear_of[in_launch] = 1
    for gear in range(1, count + 1):
        wanted = (gear_of == 0) & (target_mps <= way.end_mps[:, gear - 1]) & np.isfinite(way.begin_s[:, gear - 1])
        if not wanted.any():
            continue
        target = np.maximum(np.full(n, target_mps), way.begin_mps[:, gear - 1])
        when = way.begin_s[:, gear - 1] + _between(clocks[gear - 1], way.begin_mps[:, gear - 1], target)
        found[wanted] = when[wanted]
        gear_of[wanted] = np.where(np.isfinite(when[wanted]), gear, 0)
    return found, gear_of
