"""The equation of motion in small steps; what the rider does comes in as the force that is asked for."""

from __future__ import annotations

import math
from typing import Final

from tests.simulator.machine import GRAVITY_MPS2, Machine
from tests.simulator.road import Road

#: Step of the equation of motion in seconds.
STEP_S: Final = 0.02
_TABLE_STEP_RPM: Final = 25.0
#: Time in which a free engine settles.
_SETTLING_S: Final = 0.35


class Motion:
    """A machine on a road, moved step by step; every step is kept.

    Parameters
    ----------
    machine : Machine
        What moves.
    road : Road
        On what.
    step_s : float
        Step in seconds.
    speed_mps : float
        Speed at the start.

    Attributes
    ----------
    lever : int
        Gear selected (0 = neutral); the gear kept with a step is 0 as well while the clutch slips or a shift lasts.
    speeds, rpms, gears, thrusts, positions : list
        State at the beginning of each step.
    """

    def __init__(self, machine: Machine, road: Road, step_s: float = STEP_S, speed_mps: float = 0.0) -> None:
        self.machine = machine
        self.road = road
        self.step_s = step_s
        self.speed = speed_mps
        self.position = 0.0
        self.rpm = machine.idle_rpm
        self.lever = 0
        self.speeds: list[float] = []
        self.rpms: list[float] = []
        self.gears: list[int] = []
        self.thrusts: list[float] = []
        self.positions: list[float] = []
        self._ratios = machine.overall_ratios
        self._torques = machine.torque_table_nm(_TABLE_STEP_RPM)
        self._radius = machine.circumference_m / (2.0 * math.pi)
        self._free_mass = machine.mass_kg + machine.wheel_mass_kg
        self._grade_waves = bool(road.hills)

    @property
    def time(self) -> float:
        """Seconds since the start."""
        return len(self.speeds) * self.step_s

    def rpm_in(self, gear: int) -> float:
        """Engine speed that `gear` would have now, without slip."""
        return 60.0 * self._ratios[gear - 1] * self.speed / self.machine.circumference_at(self.speed)

    def load(self) -> float:
        """Road load now, in newtons."""
        grade = self.road.grade(self.position) if self._grade_waves else 0.0
        return self.machine.road_load_n(self.speed, grade)

    def inertia(self) -> float:
        """Mass that the thrust has to accelerate in the selected gear, in kilograms: m + J_w/r^2 + J_e (i/r)^2."""
        if self.lever == 0:
            return self._free_mass
        turns = self._ratios[self.lever - 1] / self._radius
        return self._free_mass + self.machine.engine_inertia_kgm2 * turns * turns

    def pull(self, force_n: float, engaged_rpm: float | None = None, brakes: bool = True) -> None:
        """One step in the selected gear with the force asked for at the wheel.

        Parameters
        ----------
        force_n : float
            Force in newtons; what the engine cannot give is not given, what closed throttle does not brake is left
            to the brakes.
        engaged_rpm : float, optional
            Below this engine speed the clutch slips and the engine is held there (default: the machine's).
        brakes : bool
            Whether the brakes may help.
        """
        machine = self.machine
        least_rpm = machine.engaged_rpm if engaged_rpm is None else engaged_rpm
        rpm = self.rpm_in(self.lever)
        slipping = rpm < least_rpm
        rpm = least_rpm if slipping else rpm
        lever_per_m = self._ratios[self.lever - 1] / self._radius
        open_n = min(self._open_torque_nm(rpm) * lever_per_m * machine.efficiency, machine.thrust_limit_n)
        closed_n = 0.0 if slipping else -machine.closed_torque_nm * rpm / machine.limit_rpm * lever_per_m
        highest_n = closed_n if rpm >= machine.limit_rpm else open_n
        thrust_n = min(max(force_n, closed_n), highest_n)
        brake_n = max(0.0, thrust_n - force_n) if brakes else 0.0
        self.rpm = rpm if slipping else rpm / (1.0 - machine.slip_per_n * thrust_n)
        inertia_kg = self._free_mass if slipping else self.inertia()
        self._advance(0 if slipping else self.lever, thrust_n, brake_n, inertia_kg)

    def roll(self, brake_n: float = 0.0, engine_rpm: float | None = None) -> None:
        """One step without drive; the engine settles to `engine_rpm` (default: idle)."""
        target = self.machine.idle_rpm if engine_rpm is None else engine_rpm
        self.rpm += (target - self.rpm) * (1.0 - math.exp(-self.step_s / _SETTLING_S))
        self._advance(0, 0.0, brake_n, self._free_mass)

    def shift(self, gear: int) -> None:
        """Change to `gear`: no drive for the machine's shift time while the engine speed passes to the new gear's."""
        steps = max(1, round(self.machine.shift_time_s / self.step_s))
        before = self.rpm
        self.lever = gear
        for k in range(1, steps + 1):
            self.rpm = before + (max(self.rpm_in(gear), self.machine.idle_rpm) - before) * k / (steps + 1)
            self._advance(0, 0.0, 0.0, self._free_mass)

    def _open_torque_nm(self, rpm: float) -> float:
        place = rpm / _TABLE_STEP_RPM
        k = int(place)
        return self._torques[k] + (place - k) * (self._torques[k + 1] - self._torques[k])

    def _advance(self, gear: int, thrust_n: float, brake_n: float, inertia_kg: float) -> None:
        speed = self.speed
        self.speeds.append(speed)
        self.rpms.append(self.rpm)
        self.gears.append(gear)
        self.thrusts.append(thrust_n)
        self.positions.append(self.position)
        force_n = thrust_n - brake_n - self.load()
        self.speed = max(0.0, speed + force_n / inertia_kg * self.step_s)
        self.position += 0.5 * (speed + self.speed) * self.step_s

    def weight_n(self) -> float:
        """Weight of the machine in newtons."""
        return self.machine.mass_kg * GRAVITY_MPS2
