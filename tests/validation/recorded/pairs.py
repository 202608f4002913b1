"""One pair of rides of a row: folder and truth."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tests.validation.recorded.machines import Machine, draw_machine
from tests.validation.recorded.receivers import Tachometer, own_speed, receiver
from tests.validation.recorded.ride import STEP_S, Ridden, ride
from tests.validation.recorded.riders import Act, Habits, draw_habits, hard_acts, plain_acts, short_acts
from tests.validation.recorded.roads import Road, another_day, draw_road
from tests.validation.recorded.scenarios import Row
from tests.validation.recorded.variator import ride_variator, variator_acts
from tests.validation.recorded.writing import (
    BEGINS,
    GPS_HEADERS,
    OWN_HEADERS,
    Log,
    bike_toml,
    csv_log,
    gpx,
    nmea,
    rpm_log,
)

Floats = NDArray[np.float64]
Band = tuple[float, float]

MINUTES: Final = 10.0


@dataclass(frozen=True)
class Gear:
    """What is true of a gear on a ride: speed at 1000 rev/min as shown by the tachometer, m/s, and seconds in it.

    Slip makes that a `band` of speeds: its middle half in time is as true as its mean. The engine speed is the true one
    times the tachometer's gain: an offset can be told from the rides and is an error.
    """

    per_1000rpm_mps: float
    band: Band
    seconds: float


@dataclass(frozen=True, eq=False)
class Truth:
    """What is true of a pair, between two bounds where slip leaves it open; circumferences, m, with the tachometer.

    The change is that of the teeth, or of the teeth and the mean slip of both rides together.
    """

    change_percent: Band
    gears: dict[str, dict[int, Gear]]
    circumference_m: dict[str, Band]
    machines: dict[str, Machine]
    habits: Habits


@dataclass(frozen=True, eq=False)
class Made:
    """A pair of rides: its files by path, its truth, and what was drawn, in words."""

    row: Row
    seed: int
    files: dict[str, str]
    truth: Truth
    drawn: str
    gearbox_stated: bool

    def write(self, folder: Path) -> Path:
        """Write the folder."""
        for name, text in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, newline="")
        return folder


def make(row: Row, seed: int) -> Made:
    """Make a pair of rides; the same row and seed give the same."""
    rng = np.random.default_rng([62_000, zlib.crc32(row.name.encode()), seed])
    before = draw_machine(rng, peaky=row.peaky, soft=row.soft, light=row.light)
    front, rear = _other_sprockets(before, rng, 0.3 if row.pick_up else 0.15)
    machines = {"before": before, "after": replace(before, front=front, rear=rear)}
    habits = draw_habits(rng, row.throttle, row.highest)
    road = draw_road(rng)
    instruments = _Instruments(row, before, rng)
    files, gears, round_m, mean_m = (
        dict[str, str](),
        dict[str, dict[int, Gear]](),
        dict[str, Band](),
        dict[str, float](),
    )
    for name, machine in machines.items():
        road = another_day(road, rng)
        ridden = _ridden(row, before, machine, habits, road, rng)
        files |= instruments.record(name, ridden, machine, rng)
        gears[name] = _gears(ridden, machine, instruments.seen(ridden, machine), instruments.tachometer)
        band, mean_m[name] = _effective(ridden, before)
        round_m[name] = (band[0] / instruments.tachometer.gain, band[1] / instruments.tachometer.gain)
    teeth = 100 * (front / rear / (before.front / before.rear) - 1)
    slipping = 100 * ((1 + teeth / 100) * mean_m["after"] / mean_m["before"] - 1)
    states = instruments.states
    files["bike.toml"] = bike_toml(before, front, rear, states)
    truth = Truth((min(teeth, slipping), max(teeth, slipping)), gears, round_m, machines, habits)
    drawn = (
        f"{instruments.rate_hz:g} Hz, {instruments.container}, {states}, {before.front}/{before.rear} to {front}/{rear}"
    )
    return Made(row, seed, files, truth, drawn, bool(states["gearbox"]))


def _other_sprockets(machine: Machine, rng: np.random.Generator, same: float) -> tuple[int, int]:
    if rng.random() < same:
        return machine.front, machine.rear
    if rng.random() < 0.5:
        return machine.front + int(rng.choice([-1, 1])), machine.rear
    return machine.front, machine.rear + int(rng.choice([-3, -2, -1, 1, 2, 3, 4]))


def _ridden(row: Row, drawn: Machine, machine: Machine, habits: Habits, road: Road, rng: np.random.Generator) -> Ridden:
    seconds, highest = 60 * MINUTES, row.highest or 1.0
    if row.rides == "variator":
        final = machine.rear / machine.front / (drawn.rear / drawn.front)
        return ride_variator(drawn, variator_acts(rng, seconds), road, rng, final)
    acts: list[Act]
    if row.rides == "short":
        seconds = float(rng.uniform(15, 60))
        acts = short_acts(machine, rng, seconds)
    elif row.rides == "hard":
        acts = hard_acts(machine, rng, seconds, highest, row.throttle)
    else:
        acts = plain_acts(machine, rng, seconds, highest)
    return _until(ride(machine, habits, acts, road, rng), seconds)


def _until(ridden: Ridden, seconds: float) -> Ridden:
    keep = round(seconds / STEP_S)
    names = ("time_s", "speed_mps", "engine_rpm", "gear", "wheel_hz", "way_m")
    return replace(ridden, **{name: getattr(ridden, name)[:keep] for name in names})


class _Instruments:
    """What is mounted on the machine on both days."""

    def __init__(self, row: Row, machine: Machine, rng: np.random.Generator) -> None:
        self.row, self.machine = row, machine
        self.rate_hz = float(rng.choice(row.rates_hz))
        step = row.step_rpm or float(rng.choice([1.0, 1.0, 10.0, 25.0]))
        self.tachometer = Tachometer(float(rng.normal(1, 0.008)), step, row.cut, row.filter_s, row.offset_rpm)
        self.calibration = float(rng.normal(1.02, 0.025)) if row.pick_up else 1.0
        self.delay_s = float(rng.uniform(0.05, 0.5))
        one_table = bool(row.pick_up) or row.rides == "short"
        self.container = "csv" if one_table else str(rng.choice(["csv", "gpx", "nmea"]))
        headers = OWN_HEADERS if row.pick_up else GPS_HEADERS
        self.header = headers[int(rng.integers(len(headers)))]
        self.decimals: int | None = int(rng.choice([1, 2]))
        if row.whole_kmh:
            self.decimals = 0 if rng.random() < 0.5 else None
        place = {"gearbox": "gearbox output", None: ""}.get(row.pick_up, str(row.pick_up))
        self.states: dict[str, bool | str | float] = {
            "gearbox": bool(rng.random() < 0.7) and row.rides != "variator",
            "limit": bool(rng.random() < (0.8 if row.rides == "hard" else 0.5)),
            "tyre": bool(rng.random() < 0.8),
            "mass": bool(rng.random() < 0.4),
            "driven_from": place if rng.random() < 0.5 else "",
        }

    def record(self, name: str, ridden: Ridden, machine: Machine, rng: np.random.Generator) -> dict[str, str]:
        """Write the files of a setup."""
        times = _times(ridden, self.rate_hz, self.row.ragged, rng)
        speed = self._speed(ridden, times, machine, rng)
        rpm_times = times if self.container == "csv" else _times(ridden, float(rng.choice([10.0, 20.0])), False, rng)
        log = Log(times, speed, rpm_times, self.tachometer.read(ridden, rpm_times, rng))
        if self.container == "csv":
            return {f"{name}/ride.csv": csv_log(log, self.header, self.decimals, rng)}
        track = gpx if self.container == "gpx" else nmea
        ending = "gpx" if self.container == "gpx" else "nmea"
        begin = BEGINS[name]
        return {f"{name}/track.{ending}": track(log, ridden, begin, rng), f"{name}/rpm.csv": rpm_log(log, begin)}

    def _speed(self, ridden: Ridden, times: Floats, machine: Machine, rng: np.random.Generator) -> Floats:
        if self.row.pick_up is None:
            return receiver(ridden, times, self.row.smoothing, rng, self.delay_s)
        told = self._told(machine)
        return own_speed(ridden, times, self.row.pick_up, self.machine.circumference_m, told, self.calibration, rng)

    def _told(self, machine: Machine) -> float:
        """The final drive over the one that the computer was told of."""
        return machine.rear / machine.front / (self.machine.rear / self.machine.front)

    def seen(self, ridden: Ridden, machine: Machine) -> Floats:
        """Speed without errors other than the calibration, m/s: what the log's speeds scatter about."""
        turns = ridden.wheel_hz * self.machine.circumference_m * self.calibration
        if self.row.pick_up == "gearbox":
            return turns * self._told(machine)
        return turns if self.row.pick_up == "rear wheel" else ridden.speed_mps * self.calibration


def _times(ridden: Ridden, rate_hz: float, ragged: bool, rng: np.random.Generator) -> Floats:
    """When samples were taken; a ragged log begins and ends anywhere, pauses once and repeats stamps."""
    end = float(ridden.time_s[-1])
    times = np.arange(0.0, end, 1 / rate_hz)
    if not ragged:
        return times
    first, last = float(rng.uniform(0, 0.25)) * end, float(rng.uniform(0.75, 1.0)) * end
    pause = float(rng.uniform(0.3, 0.6)) * end
    length = float(rng.uniform(15, 90))
    times = times[(times >= first) & (times < last) & ((times < pause) | (times > pause + length))]
    twice = rng.random(times.size) < 0.02
    return np.asarray(np.repeat(times, np.where(twice, 2, 1)))


def _gears(ridden: Ridden, machine: Machine, seen: Floats, tachometer: Tachometer) -> dict[int, Gear]:
    """Speeds over engine speeds as shown, gear by gear, errors of single samples aside."""
    found = {}
    for gear in range(1, len(machine.gears) + 1):
        at = ridden.gear == gear
        if at.any():
            shown = ridden.engine_rpm[at] * tachometer.gain
            found[gear] = Gear(
                1000 * float(seen[at].sum() / shown.sum()), _middle(1000 * seen[at] / shown), STEP_S * float(at.sum())
            )
    return found


def _effective(ridden: Ridden, machine: Machine) -> tuple[Band, float]:
    """Way in one turn of the wheel, m, slip and growth included: its middle half in time, and its mean."""
    at = (ridden.gear > 0) & (ridden.speed_mps > 1.0)
    if not at.any():
        return (machine.circumference_m, machine.circumference_m), machine.circumference_m
    ways = ridden.speed_mps[at] / ridden.wheel_hz[at]
    return _middle(ways), float(ways.mean())


def _middle(values: Floats) -> Band:
    low, high = np.quantile(values, (0.25, 0.75))
    return float(low), float(high)
