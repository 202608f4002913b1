"""Rides with engine speeds held by hand, and the sheets that people write of them; kinematic, apart from gearfit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.records.recording import Recording
from gearfit.records.schema import run_table, sample_table
from tests.simulator.machine import Machine

FloatArray = NDArray[np.float64]

TIMES: Final = ("none", "HH:MM:SS", "HH:MM")
#: Fastest that is ridden, m/s, and slowest that is held.
_FASTEST_MPS: Final = 34.0
_SLOWEST_MPS: Final = 4.0
_STEP_S: Final = 0.1
_START_S: Final = 1_778_401_800.0


@dataclass(frozen=True, eq=False)
class Row:
    """One line of the sheet: gear, engine speed as the tachometer shows it, moment of noting on the track's clock."""

    gear: int
    rpm: float
    noted_s: float


@dataclass(frozen=True, eq=False)
class Ridden:
    """A ride and what was written down; `tachometer` is its relative scale error, `ahead_s` that of the watch."""

    machine: Machine
    track: Recording
    rows: tuple[Row, ...]
    tachometer: float
    ahead_s: float


class _Trace:
    """Speed over time, put together stretch by stretch."""

    def __init__(self, rng: np.random.Generator, speed_mps: float) -> None:
        self.rng = rng
        self.speeds = [speed_mps]

    @property
    def now_s(self) -> float:
        return len(self.speeds) * _STEP_S

    def go_to(self, speed_mps: float) -> None:
        """Speed up or slow down, with easing at the end and sometimes too far first."""
        aim = speed_mps * float(1 + (0.04 * self.rng.random() if self.rng.random() < 0.3 else 0.0))
        rate = float(self.rng.uniform(0.8, 2.6))
        for target in (aim, speed_mps):
            while abs(target - self.speeds[-1]) > 0.004 * max(target, 3.0):
                step = np.clip((target - self.speeds[-1]) * _STEP_S / 0.8, -rate * _STEP_S, rate * _STEP_S)
                self.speeds.append(max(self.speeds[-1] + float(step), 0.0))
                if target < 0.5 and self.speeds[-1] < 0.3:
                    break

    def keep(self, speed_mps: float, duration_s: float, drift: float, drift_s: float) -> None:
        """Hold a speed with a drift of so much, relative, that hangs together for so long."""
        stay = np.exp(-_STEP_S / drift_s)
        off = drift * float(self.rng.standard_normal())
        for _ in range(round(duration_s / _STEP_S)):
            off = stay * off + drift * np.sqrt(1 - stay**2) * float(self.rng.standard_normal())
            aim = speed_mps * (1 + off)
            self.speeds.append(self.speeds[-1] + (aim - self.speeds[-1]) * _STEP_S / 0.6)

    def stand(self, duration_s: float) -> None:
        self.go_to(0.0)
        self.speeds += [0.0] * round(duration_s / _STEP_S)

    def traffic(self, stretches: int) -> None:
        """Speeds of traffic: some held, some wandering, some stops."""
        for _ in range(stretches):
            kind = self.rng.random()
            if kind < 0.2:
                self.stand(float(self.rng.uniform(3, 15)))
                continue
            self.go_to(float(self.rng.uniform(5, 27)))
            drift = 0.006 if kind < 0.7 else 0.05
            self.keep(self.speeds[-1], float(self.rng.uniform(3, 25)), drift, 4.0)


def _plan(machine: Machine, rng: np.random.Generator) -> list[tuple[int, float]]:
    """Gears and engine speeds to hold, in one of the ways in which people go about it."""
    gears = list(range(1 if rng.random() < 0.5 else 2, machine.gear_count + 1))
    step = float(rng.choice([100.0, 250.0, 500.0]))
    shares = np.sort(rng.uniform(0.33, 0.68, size=rng.choice([1, 2, 3], p=[0.15, 0.5, 0.35])))
    rpms = list(dict.fromkeys(step * round(share * machine.limit_rpm / step) for share in shares))
    plan = [(g, n) for n in rpms for g in gears] if rng.random() < 0.5 else [(g, n) for g in gears for n in rpms]
    plan = [(g, n) for g, n in plan if _SLOWEST_MPS < machine.speed_mps(n, g) < _FASTEST_MPS]
    way = rng.random()
    if way < 0.15:
        plan = [plan[i] for i in rng.permutation(len(plan))]
    elif way < 0.35:
        plan = plan + plan[::-1]
    return plan


def ride(machine: Machine, rng: np.random.Generator, tachometer: float) -> Ridden:
    """Ride a plan and write it down; the scale error of the tachometer is that of the machine."""
    plan = _plan(machine, rng)
    trace = _Trace(rng, float(rng.uniform(8, 20)) if rng.random() < 0.3 else 0.0)
    trace.keep(trace.speeds[-1], float(rng.uniform(2, 8)), 0.01, 4.0)
    trace.traffic(int(rng.integers(0, 6)))
    busy = float(rng.choice([0.0, 0.15, 0.4]))
    drift = float(rng.uniform(0.003, 0.01))
    noted_late = rng.random() < 0.5
    written: list[Row] = []
    for position, (gear, rpm) in enumerate(plan):
        if position == len(plan) // 2 and rng.random() < 0.3:
            trace.stand(float(rng.uniform(5, 40)))
        if rng.random() < busy:
            trace.traffic(int(rng.integers(1, 3)))
        began_s, fate = trace.now_s, rng.random()
        if fate >= 0.05:
            aim = machine.speed_mps(rpm / (1 + tachometer), gear) * float(1 + 0.004 * rng.standard_normal())
            trace.go_to(aim)
            began_s = trace.now_s
            trace.keep(aim, float(rng.uniform(5, 20)) if fate >= 0.09 else float(rng.uniform(1, 3)), drift, 5.0)
        if rng.random() >= 0.05:
            moment_s = trace.now_s + float(rng.uniform(0, 15)) if noted_late else began_s + float(rng.uniform(0, 5))
            written.append(Row(gear, rpm, moment_s))
    trace.traffic(int(rng.integers(0, 6)))
    trace.stand(5.0)
    habit = rng.random()
    if habit < 0.08:
        written.sort(key=lambda row: (row.gear, row.rpm))
    elif habit < 0.18 and len(written) > 2:
        place = int(rng.integers(0, len(written) - 1))
        written[place], written[place + 1] = written[place + 1], written[place]
    zone_s = 3600.0 * float(rng.choice([0, 1, 2, 5.5, -7, 9.5]))
    ahead_s = zone_s + float(np.clip(rng.normal(0, 120), -400, 400))
    return Ridden(machine, _track(trace, rng), tuple(written), tachometer, ahead_s)


def _track(trace: _Trace, rng: np.random.Generator) -> Recording:
    rate_hz = float(rng.choice([1.0, 5.0, 10.0]))
    true = np.array(trace.speeds)
    time_s = np.arange(0, true.size * _STEP_S - 1, 1 / rate_hz)
    stay = np.exp(-1 / rate_hz / 1.5)
    common, noise = 0.0, np.empty(time_s.size)
    for i in range(time_s.size):
        common = stay * common + 0.08 * np.sqrt(1 - stay**2) * rng.standard_normal()
        noise[i] = common + 0.05 * rng.standard_normal()
    speed = np.interp(time_s - 0.3, np.arange(true.size) * _STEP_S, true) + noise
    speed = np.round(np.fmax(speed, 0.0), 2)
    return Recording(
        file="track.gpx", kind="track", samples=sample_table("track.gpx", time_s.size, time_s=time_s, speed_mps=speed),
        runs=run_table("track.gpx", 0), clock="utc", start_s=_START_S, speed_source="receiver", speed_step_mps=0.01,
        rpm_step_rpm=None, columns=(), notes=(),
    )  # fmt: skip


def sheet_text(ridden: Ridden, times: str) -> str:
    """The sheet as written, with or without times."""
    lines = ["gear,rpm" if times == "none" else "time,gear,rpm"]
    for row in ridden.rows:
        clock = datetime.fromtimestamp(_START_S + row.noted_s + ridden.ahead_s, UTC)
        stamp = {"none": "", "HH:MM:SS": f"{clock:%H:%M:%S},", "HH:MM": f"{clock:%H:%M},"}[times]
        lines.append(f"{stamp}{row.gear},{row.rpm:g}")
    return "\n".join(lines) + "\n"
