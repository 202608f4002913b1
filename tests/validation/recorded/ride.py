"""A ride as physics: torques act on engine and machine, the clutch locks where both turn alike.

Shares nothing with the fit nor with `tests.simulator`; its clutch is that of `tests.validation.pull_physics`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, pi

import numpy as np
from numpy.typing import NDArray

from tests.validation.recorded.machines import AIR_KGM3, GRAVITY, Machine
from tests.validation.recorded.riders import Act, Habits
from tests.validation.recorded.roads import SPACING_M, Road

Floats = NDArray[np.float64]

STEP_S = 0.005
RAD_PER_RPM = pi / 30
#: What of the torque reaches the wheel, and what turns with the wheels, as a mass, kg.
EFFICIENCY = 0.93
WHEELS_KG = 13.0


@dataclass(frozen=True, eq=False)
class Ridden:
    """Every 5 ms: time, road speed, engine speed, gear with the clutch locked (or 0), turns of wheel a second, way."""

    time_s: Floats
    speed_mps: Floats
    engine_rpm: Floats
    gear: NDArray[np.int64]
    wheel_hz: Floats
    way_m: Floats
    road: Road


def ride(
    machine: Machine, habits: Habits, acts: Sequence[Act], road: Road, rng: np.random.Generator, scatter: float = 0.15
) -> Ridden:
    """Ride the acts one after the other.

    Parameters
    ----------
    machine, habits, acts, road : Machine, Habits, sequence of Act, Road
        On what, who, what and where.
    rng : numpy.random.Generator
        Source of everything random.
    scatter : float
        Spread of the rider's times from one to the next, as a share; 0 for the mean.
    """
    return _Rider(machine, habits, acts, road, rng, scatter).go()


class _Rider:
    """One pass through the acts."""

    def __init__(
        self,
        machine: Machine,
        habits: Habits,
        acts: Sequence[Act],
        road: Road,
        rng: np.random.Generator,
        scatter: float,
    ) -> None:
        self.machine, self.habits, self.acts, self.road, self.rng = machine, habits, list(acts), road, rng
        self.scatter = scatter
        self.radius = machine.circumference_m / (2 * pi)
        self.ratios = [float(r) for r in machine.ratios]
        self.full = [float(t) for t in machine.full]
        self.per_cell = float(machine.grid[1]) * RAD_PER_RPM
        self.limit, self.idle = machine.limit_rpm * RAD_PER_RPM, machine.idle_rpm * RAD_PER_RPM
        self.peak = max(self.full)
        self.time = self.speed = self.way = self.share = self.thrust = 0.0
        self.omega, self.gear, self.locked = self.idle, 1, False
        self.since, self.free_until, self.let_in = 0.0, 1e9, 1.0
        self.pulling, self.hand, self.drift = False, 1.0, float(rng.uniform(0, 6))
        self.up = True
        self.rows: list[tuple[float, float, int, float, float]] = []

    def go(self) -> Ridden:
        for act in self.acts:
            self._do(act)
        speed, omega, gear, thrust, way = (np.array(column) for column in zip(*self.rows, strict=True))
        machine = self.machine
        round_m = machine.circumference_m * (1 + machine.growth * (speed / 50) ** 2)
        wheel = speed / round_m * (1 + machine.slip * thrust / (machine.mass_kg * GRAVITY))
        ratio = np.append(0.0, self.ratios)[gear]
        engine = np.where(gear > 0, 60 * wheel * ratio, omega / RAD_PER_RPM)
        return Ridden(
            np.asarray(STEP_S * np.arange(speed.size), dtype=np.float64), speed, engine, gear, wheel, way, self.road
        )

    def _do(self, act: Act) -> None:
        """Do one thing until it is done."""
        begin, reached = self.time, None
        self.pulling = act.what == "pull"
        if self.pulling and self.speed < 0.5:
            self.free_until, self.let_in, self.since = self.time, self._about(self.habits.launch_s), self.time
            self.gear, self.locked = 1, False
            self._take_hand(act)
        while self.time - begin < 90.0:
            if act.what == "stand":
                if self.speed < 0.05:
                    reached = self.time if reached is None else reached
                    if self.time - reached >= act.seconds:
                        return
                self._stop()
                continue
            if act.what == "pull":
                if self.speed >= act.speed_mps or self.time - begin > act.seconds:
                    return
                if self.gear >= len(self.ratios) and self.locked and self.time - self.since > act.longest_s:
                    return
                self._pull(act)
                continue
            near = self.locked and self.gear == act.gear and abs(self.speed / act.speed_mps - 1) < 0.05
            reached = self.time if near and reached is None else reached
            if (reached is not None and self.time - reached >= act.seconds) or self.time - begin > act.seconds + 25:
                return
            self._cruise(act)

    def _about(self, mean: float) -> float:
        return mean * exp(self.scatter * float(self.rng.normal())) if self.scatter else mean

    def _take_hand(self, act: Act) -> None:
        """A hand that stops short of the stop never opens the throttle alike twice."""
        wanted = min(1.0, act.throttle)
        unsteady = 0.04 * float(self.rng.normal()) if wanted < 1.0 and self.scatter else 0.0
        self.hand = wanted if wanted >= 1.0 else min(0.99, wanted * (1 + unsteady))

    # What the rider wants, act by act

    def _stop(self) -> None:
        if self.speed < 0.05:
            self.speed, self.gear, self.locked, self.free_until = 0.0, 1, False, 1e9
            self._step(0.0, 0.0)
            return
        clutch_in = self.omega < 1.15 * self.idle or self.speed < (7.0 if self.habits.clutch_early else 2.0)
        if self.locked and clutch_in:
            self.locked, self.free_until = False, 1e9
        elif self.locked:
            self._maybe_down(0.25)
        slow = min(2.2, 0.6 + 0.25 * self.speed)
        self._step(0.0, slow * self.machine.mass_kg if self.locked is False or self.speed < 25 else 0.0)

    def _pull(self, act: Act) -> None:
        n, top = self.omega / self.limit, len(self.ratios)
        if self.locked:
            long = self.time - self.since > act.longest_s
            if self.gear < top and (n > self.shift_at() or long) and self.time - self.since > 0.3:
                self._shift(self.gear + 1)
                self._take_hand(act)
        self._step(self._opened(self.hand), 0.0)

    def shift_at(self) -> float:
        return self.habits.shift_hard

    def _cruise(self, act: Act) -> None:
        if self.free_until > 1e8:
            slow_start = 1.6 * self._about(self.habits.launch_s)
            self.free_until, self.let_in = self.time, slow_start if self.speed < 1.0 else 0.4
            self.since = self.time
            if self.speed >= 1.0:
                self.gear = self._gear_for(self.speed)
        if self.locked and self.time - self.since > 0.8:
            n = self.omega / self.limit
            if self.gear < act.gear and (n > self.habits.shift_lazy or self.speed > 0.95 * act.speed_mps):
                up = self.speed / self.radius * self.ratios[self.gear] > 1.3 * self.idle
                if up:
                    self._shift(self.gear + 1)
            elif self.gear > act.gear and self.speed < 1.1 * act.speed_mps:
                if self.speed / self.radius * self.ratios[self.gear - 2] < 0.9 * self.habits.shift_hard * self.limit:
                    self._shift(self.gear - 1)
            else:
                self._maybe_down(0.17)
        wave = 1 + 0.008 * float(np.sin(self.time / 2.3 + self.drift))
        wanted = min(max(0.6 * (act.speed_mps * wave - self.speed), -2.0), self.habits.brisk_mps2)
        force = self.machine.mass_kg * wanted + self._resisting()
        ratio = self.ratios[self.gear - 1]
        torque = force * self.radius / (ratio * EFFICIENCY)
        most, least = self._full(), -self._shut()
        aim = min(max((torque - least) / (most - least), 0.0), self._opened(self.habits.throttle))
        brake = max(0.0, (least - torque) * ratio / self.radius) if self.locked and wanted < -0.4 else 0.0
        self._step(aim, min(brake, 2.5 * self.machine.mass_kg))

    def _gear_for(self, speed: float) -> int:
        for g in range(len(self.ratios), 1, -1):
            if speed / self.radius * self.ratios[g - 1] > 0.3 * self.limit:
                return g
        return 1

    def _maybe_down(self, share: float) -> None:
        if self.gear > 1 and self.omega < max(1.4 * self.idle, share * self.limit) and self.time - self.since > 0.5:
            self._shift(self.gear - 1)

    def _shift(self, gear: int) -> None:
        self.up, self.gear, self.locked = gear > self.gear, gear, False
        self.free_until = self.time + self._about(self.habits.shift_s)
        self.let_in, self.since = self._about(self.habits.let_in_s), self.time

    # Physics

    def _full(self) -> float:
        cell = int(self.omega / self.per_cell)
        return self.full[min(cell, len(self.full) - 1)]

    def _shut(self) -> float:
        return 0.22 * self.peak * self.omega / self.limit + 0.04 * self.peak

    def _opened(self, throttle: float) -> float:
        """Share of the torque that an open throttle gives."""
        if not self.machine.plate or throttle >= 1.0:
            return throttle
        x = 0.3 + self.omega / self.limit
        return (1 - exp(-4 * throttle / x)) / (1 - exp(-4 / x))

    def _resisting(self) -> float:
        m, road = self.machine, self.road
        at = min(int(self.way / SPACING_M), road.slope.size - 1)
        air = self.speed + road.wind_mps[at] + road.gust_mps[min(int(self.time), road.gust_mps.size - 1)]
        drag = 0.5 * AIR_KGM3 * m.drag_area_m2 * air * abs(air)
        return float(drag + m.mass_kg * GRAVITY * (m.rolling + road.slope[at]))

    def _step(self, aim: float, brake_n: float) -> None:
        m, ratio = self.machine, self.ratios[self.gear - 1]
        capacity = self._capacity()
        aim = self._foot(aim, capacity, ratio)
        self.share += (aim - self.share) * min(1.0, STEP_S / 0.06)
        shut = self._shut()
        torque = self.share * (self._full() + shut) - shut
        if self.omega < self.idle:
            torque += 0.04 * (self.idle - self.omega) * self.peak
        most = m.most_thrust * m.mass_kg * GRAVITY * self.radius / (ratio * EFFICIENCY)
        torque = min(torque, most)
        load = self._resisting() + brake_n if self.speed > 0.02 else 0.0
        if self.locked:
            self.thrust = torque * ratio * EFFICIENCY / self.radius
            inertia = m.mass_kg + WHEELS_KG + m.inertia_kgm2 * (ratio / self.radius) ** 2
            self.speed = max(0.0, self.speed + STEP_S * (self.thrust - load) / inertia)
            self.omega = self.speed / self.radius * ratio
            if self.omega < 0.75 * self.idle:
                self.locked, self.free_until = False, self.time
        else:
            self._slipping(torque, min(capacity, most), load, ratio)
        self.way += STEP_S * self.speed
        self.time += STEP_S
        self.rows.append((self.speed, self.omega, self.gear if self.locked else 0, self.thrust, self.way))

    def _slipping(self, torque: float, capacity: float, load: float, ratio: float) -> None:
        m = self.machine
        ahead = self.omega - self.speed / self.radius * ratio
        passed = capacity if ahead > 0 else -capacity
        self.omega = max(self.omega + STEP_S * (torque - passed) / m.inertia_kgm2, 0.9 * self.idle)
        self.thrust = passed * ratio * EFFICIENCY / self.radius
        if self.speed <= 0.02 and self.thrust < m.rolling * m.mass_kg * GRAVITY:
            return
        self.speed = max(0.0, self.speed + STEP_S * (self.thrust - load) / (m.mass_kg + WHEELS_KG))
        now = self.speed / self.radius * ratio
        if capacity > 0 and ((self.omega - now) * ahead <= 0 or abs(self.omega - now) < 2.0) and now > 0.85 * self.idle:
            self.locked, self.since, self.omega = True, self.time, now

    def _capacity(self) -> float:
        """Torque that the clutch can pass, N m."""
        if self.time < self.free_until:
            return 0.0
        share = min(1.0, (self.time - self.free_until) / self.let_in)
        return share * 1.5 * self.peak

    def _foot(self, aim: float, capacity: float, ratio: float) -> float:
        """Hold the engine at starts, shut off in shifts up, blip in shifts down."""
        if self.locked:
            return aim if self.omega < self.limit else 0.0
        if self.free_until > 1e8:
            return 0.0
        if capacity == 0.0:
            wanted = self.speed / self.radius * ratio
            return 0.0 if self.up else min(0.6, max(0.0, 0.01 * (wanted - self.omega)))
        if self.speed / self.radius * ratio < self.habits.launch_share * self.limit and self.gear == 1:
            share = self.habits.launch_share if self.pulling else 0.28
            return min(aim if self.pulling else 0.6, max(0.0, 0.3 + 0.02 * (share * self.limit - self.omega)))
        return aim
