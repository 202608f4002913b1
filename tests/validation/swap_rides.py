"""Rides for the study of the swap on paper whose physics are not those that the estimator assumes.

The throttle is a flap before an engine that asks for air in proportion to its speed: a flap half open hardly matters at
low engine speeds and takes much at high ones. With u the share of the twist grip's way, a = 1 - cos(90 deg u) the
share of the bore that is open and q the engine speed as a share of the limit, the pressure behind the flap is taken as
1 / sqrt(1 + (q / (2 a))^2) of that before it, and the torque at full throttle plus friction falls with it. It is a
simplification of our own (no source) that has what matters: torque that falls off earlier, and most of all at the top.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from tests.simulator.machine import Machine
from tests.simulator.manoeuvres import Coast, Hold, Manoeuvre, Standstill, Stop, Traffic
from tests.simulator.ride import TrueRide, simulate
from tests.simulator.rider import Rider
from tests.simulator.road import hilly_road

#: Torque against engine speed, as shares of the highest torque and of the limit (invented).
SHAPES: Final = {
    "peaky": ((0, 0.30, 0.50, 0.62, 0.74, 0.86, 0.94, 1), (0.25, 0.38, 0.48, 0.62, 0.90, 1.0, 0.93, 0.72)),
    "flat": ((0, 0.20, 0.35, 0.60, 0.90, 1), (0.6, 0.9, 1.0, 1.0, 0.97, 0.9)),
    "two humps": ((0, 0.20, 0.38, 0.52, 0.66, 0.82, 0.92, 1), (0.5, 0.75, 0.95, 0.82, 0.85, 1.0, 0.94, 0.78)),
}
#: Time in which the throttle is opened, s, and where that begins.
_OPENING_S: Final = 0.2
_OPENING_FROM: Final = 0.3
#: A wider throttle than this is open, and where the hand finds a stop nothing scatters.
_STOP: Final = 1.0


@dataclass(frozen=True)
class Hand:
    """How far a rider opens the throttle when riding hard: share of the grip's way, its scatter, and the shifts.

    `run_sd` is the scatter from run to run, `gear_sd` from gear to gear within it, `shift_share` the engine speed on
    changing up as a share of the limit, `shift_sd` its relative scatter, `held_sd` that of a first gear held back.
    """

    throttle: float = _STOP
    run_sd: float = 0.03
    gear_sd: float = 0.03
    shift_share: float = 0.88
    shift_sd: float = 0.02
    held_sd: float = 0.03

    def openings(self, rng: np.random.Generator, gears: int) -> tuple[float, ...]:
        """Draw the opening in each gear of one run."""
        if self.throttle >= _STOP:
            return (_STOP,) * gears
        run = self.throttle + self.run_sd * float(rng.standard_normal())
        return tuple(float(np.clip(run + self.gear_sd * z, 0.3, _STOP)) for z in rng.standard_normal(gears))


@dataclass(frozen=True)
class Pull:
    """A standing start through the gears with a throttle opening for each gear."""

    to_mps: float
    shift_rpm: float
    openings: tuple[float, ...]
    most_n: float = math.inf

    def ride(self, rider: Rider) -> None:
        """Do it, step by step."""
        motion, machine = rider.motion, rider.motion.machine
        motion.lever = 1
        end, opened, starting = motion.time + 60.0, motion.time - 1.0, True
        while motion.speed < self.to_mps and motion.time < end:
            if motion.lever < machine.gear_count and motion.rpm_in(motion.lever) >= self.shift_rpm:
                motion.shift(motion.lever + 1)
                opened = motion.time
            starting = starting and motion.rpm_in(1) < machine.launch_rpm
            share = min((motion.time - opened) / _OPENING_S, 1.0)
            opening = self.openings[motion.lever - 1] * (_OPENING_FROM + (1 - _OPENING_FROM) * share)
            rpm = max(motion.rpm_in(motion.lever), machine.launch_rpm if starting else 0.0)
            lever = machine.overall_ratios[motion.lever - 1] * 2 * math.pi / machine.circumference_m
            force = throttled_nm(machine, rpm, opening) * lever * machine.efficiency
            motion.pull(min(force, self.most_n), machine.launch_rpm if starting else None, brakes=False)


def throttled_nm(machine: Machine, engine_rpm: float, opening: float) -> float:
    """Torque at a throttle opening."""
    full = float(np.interp(engine_rpm, machine.torque_rpm, machine.torque_nm))
    asked = engine_rpm / machine.limit_rpm
    friction = machine.closed_torque_nm * asked
    area = 1 - math.cos(opening * math.pi / 2)
    pressures = [1 / math.sqrt(1 + (asked / (2 * open_area)) ** 2) for open_area in (area, 1.0)]
    return (full + friction) * pressures[0] / pressures[1] - friction


def with_engine(machine: Machine, shape: str) -> Machine:
    """Return the machine with a torque curve of another shape and the same highest torque; as built if unknown."""
    if shape not in SHAPES:
        return machine
    rpm, torque = SHAPES[shape]
    most = max(machine.torque_nm)
    return replace(
        machine,
        torque_rpm=tuple(share * machine.limit_rpm for share in rpm),
        torque_nm=tuple(share * most for share in torque),
    )


def hard_ride(rng: np.random.Generator, machine: Machine, hand: Hand, starts: int = 5) -> TrueRide:
    """Standing starts, each followed by coasting in neutral and a stop, then ordinary riding, on a hilly road."""
    script: list[Manoeuvre] = [Standstill(6.0)]
    for _ in range(starts):
        shift_rpm = machine.limit_rpm * hand.shift_share * float(1 + hand.shift_sd * rng.standard_normal())
        most_n = machine.thrust_limit_n * float(1 + hand.held_sd * rng.standard_normal())
        script += [Pull(30.0, shift_rpm, hand.openings(rng, machine.gear_count), most_n)]
        script += [Coast(4.0), Stop(), Standstill(float(rng.uniform(4.0, 8.0)))]
    for gear in range(1, machine.gear_count + 1):
        script += [Hold(gear, min(0.45 * machine.limit_rpm, machine.engine_rpm(29.0, gear)), 6.0)]
    free = replace(machine, thrust_limit_n=math.inf)
    script += [Coast(6.0), Traffic(420.0 + 36.0 * (starts - 5), 6.0, 27.0)]
    return simulate(free, script, rng, road=hilly_road(rng, 0.01), duration_s=420.0 + 36.0 * (starts - 5))
