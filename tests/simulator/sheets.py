"""What a rider writes down by hand: readings at a held engine speed, and stopwatch times."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from gearfit.records.recording import Column, Kind, Recording, SpeedSource
from gearfit.records.schema import run_table, sample_table
from gearfit.units import MPS_PER_MPH
from tests.simulator.machine import Machine
from tests.simulator.manoeuvres import Launch
from tests.simulator.noise import in_steps
from tests.simulator.ride import simulate

#: Standard deviation of the difference of two reactions of the same person with a stopwatch: American Journal of
#: Physics 87(2), 110 (2019).
REACTION_SD_S: Final = 0.10


@dataclass(frozen=True)
class Speedometer:
    """An instrument on the dash: shown = `offset_mps` + `gain` x the speed that its pick-up stands for.

    A pick-up at the gearbox output stands for the road speed that the machine would have with the setup
    `calibrated_for`; a change of the final drive does not reach it.
    """

    gain: float = 1.04
    offset_mps: float = 0.3
    driven_from: Literal["wheel", "gearbox output"] = "wheel"
    calibrated_for: str = "before"

    def shown_mps(self, machine: Machine, speed_mps: float) -> float:
        """Return what the needle shows at a road speed."""
        sensed = speed_mps
        if self.driven_from == "gearbox output":
            fitted = machine.overall_ratios[0]
            sensed *= fitted / machine.fitted_with(self.calibrated_for).overall_ratios[0]
        return self.offset_mps + self.gain * sensed


@dataclass(frozen=True)
class HandReading:
    """How a rider reads.

    Attributes
    ----------
    step_mps : float
        Speeds are written to this resolution.
    held_sd_rpm : float
        How unsteadily the engine speed is held at the moment of reading.
    tachometer_scale_error : float
        Relative error of the tachometer (0.02: shows 2 % too much).
    receiver_sd_mps : float
        Standard error of the satellite receiver's speed.
    needle_sd_mps : float
        Standard error of reading the needle, resolution aside.
    """

    step_mps: float = MPS_PER_MPH
    held_sd_rpm: float = 25.0
    tachometer_scale_error: float = 0.0
    receiver_sd_mps: float = 0.08
    needle_sd_mps: float = 0.2


def observe_sheet(
    machine: Machine,
    plan: Sequence[tuple[int, float]],
    rng: np.random.Generator,
    *,
    reading: HandReading | None = None,
    receiver: bool = True,
    speedometer: Speedometer | None = None,
    file: str = "holds.csv",
) -> Recording:
    """Hold engine speeds in gears on the level and write down gear, engine speed and speed.

    Parameters
    ----------
    machine : Machine
        On what.
    plan : sequence of (gear, engine speed in rev/min as the tachometer shows it)
        One row each, 1 = first gear.
    rng : numpy.random.Generator
        Source of everything random.
    reading : HandReading, optional
        How the rider reads.
    receiver : bool
        The speed is read from a satellite receiver.
    speedometer : Speedometer, optional
        The dash is read (as well).
    file : str
        Name for the recording.

    Returns
    -------
    Recording
        Of kind "samples", or "held rpm" where no speed is read at all.
    """
    how = reading or HandReading()
    n = len(plan)
    gears = np.array([gear for gear, _ in plan], dtype=np.float64)
    shown_rpm = np.array([rpm for _, rpm in plan], dtype=np.float64)
    true_rpm = (shown_rpm + how.held_sd_rpm * rng.standard_normal(n)) / (1.0 + how.tachometer_scale_error)
    true_mps = np.array([machine.held_speed_mps(float(true_rpm[k]), plan[k][0]) for k in range(n)])
    read_mps = in_steps(true_mps + how.receiver_sd_mps * rng.standard_normal(n), how.step_mps, False)
    columns = {"row": np.arange(2, n + 2), "stated_gear": gears, "engine_rpm": shown_rpm}
    found = [Column("gear", "stated_gear", ""), Column("rpm", "engine_rpm", "rev/min")]
    kind: Kind = "held rpm"
    source: SpeedSource = "none"
    if speedometer is not None:
        needle = np.array([speedometer.shown_mps(machine, float(speed)) for speed in true_mps])
        needle = in_steps(needle + how.needle_sd_mps * rng.standard_normal(n), how.step_mps, False)
        columns |= {"indicated_mps": needle, "speed_mps": needle}
        found.append(Column("indicated", "indicated_mps", "m/s"))
        kind, source = "samples", "speedometer"
    if receiver:
        columns["speed_mps"] = read_mps
        found.append(Column("speed", "speed_mps", "m/s"))
        kind, source = "samples", "hand"
    if "speed_mps" in columns:
        columns["speed_sd_mps"] = np.full(n, how.step_mps / math.sqrt(12.0))
    return Recording(
        file=file,
        kind=kind,
        samples=sample_table(file, n, **columns),
        runs=run_table(file, 0),
        clock="none",
        start_s=None,
        speed_source=source,
        speed_step_mps=None if source == "none" else how.step_mps,
        rpm_step_rpm=None,
        columns=tuple(found),
        notes=(),
    )


def misread(recording: Recording, index: int, by_mps: float) -> Recording:
    """Return the sheet with the speed of the row at `index` (from 0) written down wrongly by `by_mps`."""
    samples = recording.samples.copy()
    speed_mps = samples["speed_mps"].to_numpy(copy=True)
    speed_mps[index] += by_mps
    samples["speed_mps"] = speed_mps
    return replace(recording, samples=samples)


def true_time_s(machine: Machine, from_mps: float, to_mps: float, shift_rpm: float, rng: np.random.Generator) -> float:
    """Time of one full-throttle run on the level from `from_mps` (0 = standing start) to `to_mps`.

    Raises
    ------
    ValueError
        The machine does not reach `to_mps`.
    """
    ride = simulate(machine, [Launch(to_mps + 0.5, shift_rpm)], rng, start_mps=from_mps)
    above = np.flatnonzero(ride.speed_mps >= to_mps)
    if above.size == 0:
        raise ValueError(f"{machine.bike.name} does not reach {to_mps:g} m/s; choose a lower speed")
    k = int(above[0])
    share = (to_mps - ride.speed_mps[k - 1]) / (ride.speed_mps[k] - ride.speed_mps[k - 1])
    return float(ride.time_s[k - 1] + share * ride.step_s)


def observe_runs(
    machine: Machine,
    from_mps: float,
    to_mps: float,
    n: int,
    rng: np.random.Generator,
    *,
    reaction_sd_s: float = REACTION_SD_S,
    file: str = "timed.csv",
) -> Recording:
    """Time `n` full-throttle runs by hand; no two starts and changes of gear are quite alike.

    Launch speed scatters by 4 %, shift speed by 2 % about 90 % of the limit, shift time by 8 %, and the stopwatch adds
    a difference of two reactions. Written to 0.01 s.
    """
    times_s: list[float] = []
    for _ in range(n):
        today = replace(
            machine,
            launch_rpm=machine.launch_rpm * float(1.0 + 0.04 * rng.standard_normal()),
            shift_time_s=machine.shift_time_s * float(1.0 + 0.08 * rng.standard_normal()),
        )
        shift_rpm = 0.9 * machine.limit_rpm * float(1.0 + 0.02 * rng.standard_normal())
        true_s = true_time_s(today, from_mps, to_mps, shift_rpm, rng)
        times_s.append(round(true_s + reaction_sd_s * float(rng.standard_normal()), 2))
    runs = run_table(
        file,
        n,
        row=np.arange(2, n + 2),
        from_mps=np.full(n, from_mps),
        to_mps=np.full(n, to_mps),
        time_s=np.array(times_s),
    )
    return Recording(
        file=file,
        kind="timed runs",
        samples=sample_table(file, 0),
        runs=runs,
        clock="none",
        start_s=None,
        speed_source="none",
        speed_step_mps=None,
        rpm_step_rpm=None,
        columns=(
            Column("from", "from_mps", "m/s"),
            Column("to", "to_mps", "m/s"),
            Column("time_s", "time_s", "s"),
        ),
        notes=(),
    )
