"""What a rider can do with the controls; manoeuvres are written in these words."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tests.simulator.motion import Motion


@dataclass(frozen=True)
class Habits:
    """How steadily and how briskly somebody rides.

    Attributes
    ----------
    unsteadiness : float
        Relative standard deviation of the speed that the rider aims at while holding one.
    unsteadiness_s : float
        Time over which that wanders.
    pull_mps2, brake_mps2 : float
        Acceleration and deceleration that the rider asks for in ordinary riding.
    grip_per_s : float
        Acceleration asked for, for each m/s that the speed is off.
    """

    unsteadiness: float = 0.006
    unsteadiness_s: float = 4.0
    pull_mps2: float = 2.2
    brake_mps2: float = 2.5
    grip_per_s: float = 0.8


class Rider:
    """Somebody on a machine in motion, with random numbers of their own."""

    def __init__(self, motion: Motion, rng: np.random.Generator, habits: Habits | None = None) -> None:
        self.motion = motion
        self.rng = rng
        self.habits = habits or Habits()
        self._keep = math.exp(-motion.step_s / self.habits.unsteadiness_s)
        self._wander = 0.0
        self._normals: list[float] = []

    def stand(self, duration_s: float) -> None:
        """Stand in neutral."""
        self.motion.lever = 0
        for _ in range(self._steps(duration_s)):
            self.motion.roll(brake_n=self.motion.weight_n())

    def coast(self, duration_s: float) -> None:
        """Roll in neutral with the engine idling."""
        self.motion.lever = 0
        for _ in range(self._steps(duration_s)):
            self.motion.roll()

    def full_throttle(self, to_mps: float, shift_rpm: float, to_gear: int) -> None:
        """Accelerate with the throttle open through the gears until `to_mps` or for 40 s; from standstill too."""
        motion = self.motion
        if motion.lever == 0:
            motion.lever = self._gear_for_now()
        end = motion.time + 40.0
        starting = motion.rpm_in(motion.lever) < motion.machine.launch_rpm
        while motion.speed < to_mps and motion.time < end:
            if motion.lever < to_gear and motion.rpm_in(motion.lever) >= shift_rpm:
                motion.shift(motion.lever + 1)
            starting = starting and motion.rpm_in(motion.lever) < motion.machine.launch_rpm
            motion.pull(math.inf, motion.machine.launch_rpm if starting else None)

    def close_throttle(self, to_rpm: float, longest_s: float = 20.0) -> None:
        """Let the engine brake in the gear that is in."""
        motion = self.motion
        end = motion.time + longest_s
        while motion.lever and motion.rpm_in(motion.lever) > to_rpm and motion.time < end:
            motion.pull(-math.inf, brakes=False)

    def follow(self, target_mps: float, pull_mps2: float | None = None) -> None:
        """One step towards a speed, in the gear that is in."""
        motion, habits = self.motion, self.habits
        aim = target_mps * (1.0 + self._wandering())
        pull = habits.pull_mps2 if pull_mps2 is None else pull_mps2
        wanted = min(max(habits.grip_per_s * (aim - motion.speed), -habits.brake_mps2), pull)
        motion.pull(motion.load() + motion.inertia() * wanted)

    def keep_gear(self, down_rpm: float, up_rpm: float) -> None:
        """Change gear where the engine speed asks for it; take up a gear when rolling in neutral."""
        motion = self.motion
        if motion.lever == 0:
            motion.shift(self._gear_for_now())
        elif motion.rpm_in(motion.lever) > up_rpm and motion.lever < motion.machine.gear_count:
            motion.shift(motion.lever + 1)
        elif motion.rpm_in(motion.lever) < down_rpm and motion.lever > 1:
            motion.shift(motion.lever - 1)

    def stop(self, brake_mps2: float | None = None) -> None:
        """Brake to a standstill, clutch in at the end."""
        motion = self.motion
        rate = self.habits.brake_mps2 if brake_mps2 is None else brake_mps2
        while motion.speed > 0.0:
            if motion.lever and motion.rpm_in(motion.lever) > 1.5 * motion.machine.idle_rpm:
                motion.pull(motion.load() - motion.inertia() * rate)
            else:
                motion.roll(brake_n=max(0.0, rate * motion.inertia() - motion.load()))
        motion.lever = 0

    def bring_to(self, gear: int, target_mps: float, within: float = 0.012, longest_s: float = 45.0) -> None:
        """Ride until `gear` is in and the speed is within `within` (relative) of the target, or for `longest_s`."""
        motion = self.motion
        limit_rpm = motion.machine.limit_rpm
        end = motion.time + longest_s
        if motion.lever == 0:
            motion.shift(self._gear_for_now())
        while motion.time < end:
            lever = motion.lever
            if lever == gear and abs(motion.speed - target_mps) <= within * target_mps:
                return
            near = motion.speed > 0.95 * target_mps
            if lever < gear and (near or motion.rpm_in(lever) > 0.55 * limit_rpm):
                motion.shift(lever + 1)
            elif lever > gear and motion.speed < 1.1 * target_mps and motion.rpm_in(lever - 1) < 0.9 * limit_rpm:
                motion.shift(lever - 1)
            self.follow(target_mps)

    def _gear_for_now(self) -> int:
        motion = self.motion
        for gear in range(motion.machine.gear_count, 1, -1):
            if motion.rpm_in(gear) > 0.35 * motion.machine.limit_rpm:
                return gear
        return 1

    def _wandering(self) -> float:
        if not self._normals:
            self._normals = self.rng.standard_normal(512).tolist()
        share = self.habits.unsteadiness * math.sqrt(1.0 - self._keep * self._keep)
        self._wander = self._keep * self._wander + share * self._normals.pop()
        return self._wander

    def _steps(self, duration_s: float) -> int:
        return max(0, round(duration_s / self.motion.step_s))
