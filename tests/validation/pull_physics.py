"""A short pull through the gears as physics: an engine, a clutch, a gearbox and a machine to push along.

It shares nothing with the fit, nor with the rides of `tests.simulator`: gears are where the clutch has locked, which
comes out of the torques. Machines are drawn at random and exist nowhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEP_S = 0.002
RAD_PER_RPM = 2 * np.pi / 60


@dataclass(frozen=True, eq=False)
class Drawn:
    """A machine: overall ratios, circumference (m), mass (kg), limit and idle (rev/min), peak torque (N m), inertia."""

    overall: Floats
    circumference_m: float
    mass_kg: float
    limit_rpm: float
    idle_rpm: float
    torque_nm: float
    inertia_kgm2: float

    @property
    def levels(self) -> Floats:
        """ln(rev/min per m/s) of each gear: n = 60 i v / C."""
        return np.asarray(np.log(60 * self.overall / self.circumference_m))


@dataclass(frozen=True, eq=False)
class Pull:
    """What happened: every 2 ms time, speed, engine speed and the gear with its clutch locked (0 = none)."""

    time_s: Floats
    speed_mps: Floats
    engine_rpm: Floats
    gear: NDArray[np.int64]


def draw_machine(rng: np.random.Generator) -> Drawn:
    """Draw four to six gears whose steps shrink upwards, a tyre, a mass and an engine."""
    gears = int(rng.choice([4, 5, 5, 6, 6, 6]))
    first = float(rng.uniform(1.35, 1.65))
    last = float(rng.uniform(1.09, 1.2))
    steps = first * (last / first) ** np.linspace(0, 1, gears - 1) * rng.normal(1, 0.01, gears - 1)
    top = float(rng.uniform(4.4, 6.2))
    overall = top * np.append(np.cumprod(steps[::-1])[::-1], 1.0)
    limit = float(rng.uniform(8000, 12500))
    mass = float(rng.uniform(190, 330))
    return Drawn(
        overall=overall,
        circumference_m=float(rng.uniform(1.85, 2.1)),
        mass_kg=mass,
        limit_rpm=limit,
        idle_rpm=float(rng.uniform(1100, 1700)),
        torque_nm=mass * float(rng.uniform(0.11, 0.22)),
        inertia_kgm2=float(rng.uniform(0.006, 0.014)),
    )


def ride(machine: Drawn, rng: np.random.Generator, length_s: float = 20.0, top: int | None = None) -> Pull:
    """Stand, let the clutch in, pull through the gears once, shut off and pull the clutch.

    Parameters
    ----------
    machine : Drawn
        On what.
    rng : numpy.random.Generator
        Source of everything random.
    length_s : float
        Length of the log.
    top : int, optional
        Highest gear that is used; all by default.
    """
    top = machine.overall.size if top is None else top
    rider = _Rider(machine, rng, top, length_s)
    count = round(length_s / STEP_S)
    speed, engine, gear = np.zeros(count), np.zeros(count), np.zeros(count, dtype=np.int64)
    for k in range(count):
        rider.step(k * STEP_S)
        speed[k], engine[k] = rider.speed, rider.omega / RAD_PER_RPM
        gear[k] = rider.gear if rider.locked else 0
    return Pull(np.asarray(STEP_S * np.arange(count), dtype=np.float64), speed, engine, gear)


class _Rider:
    """Moves throttle, clutch and pedal; the engine and the machine follow from the torques."""

    def __init__(self, machine: Drawn, rng: np.random.Generator, top: int, length_s: float) -> None:
        self.machine, self.rng, self.top = machine, rng, top
        self.speed, self.omega = 0.0, machine.idle_rpm * RAD_PER_RPM
        self.gear, self.locked = 1, False
        self.radius = machine.circumference_m / (2 * np.pi)
        self.begin_s = float(rng.uniform(1.0, 4.0))
        self.end_s = length_s - float(rng.uniform(0.5, 3.5))
        self.pull = float(rng.uniform(0.45, 1.0))
        self.shift_rpm = machine.limit_rpm * float(rng.uniform(0.55, 0.92))
        self.shift_s = float(rng.uniform(0.12, 0.6))
        self.let_in_s = float(rng.uniform(0.08, 0.5))
        self.launch_s = float(rng.uniform(1.0, 2.5))
        # The rider leaves time for every gear: in each, at most this long.
        between_s = self.launch_s + (top - 1) * (self.shift_s + self.let_in_s)
        self.longest_s = (self.end_s - self.begin_s - between_s) / top
        self.since_s, self.free_until_s = self.begin_s, self.begin_s
        self.ended = False

    def step(self, time_s: float) -> None:
        m = self.machine
        ratio = m.overall[self.gear - 1]
        gearbox = self.speed / self.radius * ratio
        if time_s >= self.end_s:
            self.ended, self.locked = True, False
        if self.locked and not self.ended and self.gear < self.top:
            over = self.omega > self.shift_rpm * RAD_PER_RPM or time_s - self.since_s > self.longest_s
            if over and time_s - self.since_s > 0.4:
                self.gear, self.locked = self.gear + 1, False
                self.free_until_s = time_s + self.shift_s * float(self.rng.uniform(0.8, 1.2))
                self.since_s = time_s
                return
        capacity = self._capacity(time_s)
        throttle = self._throttle(time_s, capacity)
        drive = self._torque(throttle)
        load = 0.016 * m.mass_kg * 9.81 * (self.speed > 0) + 0.35 * self.speed**2
        if self.locked:
            wheel = drive * ratio * 0.93 / self.radius
            inertia = m.mass_kg + 14 + m.inertia_kgm2 * (ratio / self.radius) ** 2
            self.speed = max(0.0, self.speed + STEP_S * (wheel - load) / inertia)
            self.omega = self.speed / self.radius * ratio
            return
        ahead = self.omega - gearbox
        passed = capacity * float(np.sign(ahead))
        self.omega += STEP_S * (drive - passed) / m.inertia_kgm2
        self.omega = max(self.omega, m.idle_rpm * RAD_PER_RPM * 0.97)
        brake = 2.0 * m.mass_kg if self.ended else 0.0
        force = passed * ratio * 0.93 / self.radius - load - brake * (self.speed > 0)
        self.speed = max(0.0, self.speed + STEP_S * force / (m.mass_kg + 14))
        now = self.speed / self.radius * ratio
        crossed = (self.omega - now) * ahead <= 0 or abs(self.omega - now) < 2.0
        if capacity > 0 and crossed and now > m.idle_rpm * RAD_PER_RPM:
            self.locked, self.since_s, self.omega = True, time_s, now

    def _capacity(self, time_s: float) -> float:
        """Torque that the clutch can pass, N m."""
        if self.ended or time_s < self.free_until_s:
            return 0.0
        launch = self.gear == 1
        share = min(1.0, (time_s - self.free_until_s) / (self.launch_s if launch else self.let_in_s))
        return share * (1.3 if launch else 1.6) * self.machine.torque_nm * self.pull

    def _throttle(self, time_s: float, capacity: float) -> float:
        """Share of the full torque; -1 is shut."""
        m = self.machine
        if self.ended or time_s < self.begin_s:
            return -1.0
        if not self.locked and capacity == 0.0:
            return -1.0
        if not self.locked and self.gear == 1:
            held = 0.45 * m.limit_rpm * RAD_PER_RPM
            return float(np.clip(self.pull * (1 + 0.02 * (held - self.omega)), 0.0, 1.0))
        return self.pull if self.gear < self.top or self.omega < 0.97 * m.limit_rpm * RAD_PER_RPM else 0.1

    def _torque(self, throttle: float) -> float:
        m = self.machine
        share = self.omega / (m.limit_rpm * RAD_PER_RPM)
        full = m.torque_nm * (1 - 1.1 * (share - 0.65) ** 2) * (share < 1.02)
        shut = -0.25 * m.torque_nm * share
        idle = max(0.0, 0.02 * (m.idle_rpm * RAD_PER_RPM - self.omega)) * m.torque_nm
        return (throttle * full if throttle >= 0 else shut) + (idle if throttle < 0 else 0.0)
