"""The sample folders: invented rides with fixed seeds, and the truth about each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from gearfit.units import MPS_PER_KMH, MPS_PER_MPH
from tests.simulator.files import write_log, write_runs, write_sheet, write_track
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import commuter_twin, old_five_speed, trail_bike
from tests.simulator.recorder import START_S, Logger, observe_log, observe_rpm_log, observe_track
from tests.simulator.sample_texts import MOTORWAY_COMMUTER_TOML, README, TRAIL_BIKE_TOML
from tests.simulator.scripts import ten_minute_ride
from tests.simulator.sheets import misread, observe_runs, observe_sheet

SETUPS: Final = ("before", "after")

#: Instruments of `trail-bike`: a receiver, and an engine-speed recorder of its own whose clock is right.
TRAIL_RECEIVER: Final = SpeedChannel(rate_hz=5.0, latency_s=0.25, white_sd_mps=0.04, correlated_sd_mps=0.08)
TRAIL_RPM: Final = RpmChannel(rate_hz=10.0, lag_s=0.05, noise_sd_rpm=12.0)
#: Logger of `no-papers`: steps of 0.1 km/h and 10 rev/min.
NO_PAPERS_LOGGER: Final = Logger(
    speed=SpeedChannel(latency_s=0.15, step_mps=0.1 * MPS_PER_KMH),
    rpm=RpmChannel(lag_s=0.05, noise_sd_rpm=12.0, step_rpm=10.0),
)
#: Rows of the sheets of `motorway-commuter`: three rounds at two engine speeds up through six gears.
COMMUTER_PLAN: Final = tuple((gear, rpm) for _ in range(3) for rpm in (4000.0, 5000.0) for gear in range(1, 7))
#: The row of the after sheet (from 0) that was written down wrongly, and by how much.
MISREAD_INDEX: Final = 20
MISREAD_BY_MPS: Final = 10.0 * MPS_PER_MPH


@dataclass(frozen=True)
class Misreading:
    """A row that was written down wrongly: file, line (the header is 1), gear, engine speed, and by how much."""

    file: str
    row: int
    gear: int
    engine_rpm: float
    by_mps: float


@dataclass(frozen=True)
class SampleTruth:
    """What is true of a sample folder.

    Attributes
    ----------
    folder : str
        Its name.
    circumference_m : float
        Rolling circumference in both setups.
    change_percent : float
        Change of road speed at the same engine speed, after against before, in every gear.
    overall_ratios : mapping of str to tuple of float
        For each setup, first gear first.
    speed_per_1000rpm_mps : mapping of str to tuple of float
        For each setup, first gear first; without slip.
    lag_s : float or None
        How far the engine-speed channel leads (+) the speed channel; None where there are no timed logs.
    misreading : Misreading or None
        The wrong row, where there is one.
    """

    folder: str
    circumference_m: float
    change_percent: float
    overall_ratios: Mapping[str, tuple[float, ...]]
    speed_per_1000rpm_mps: Mapping[str, tuple[float, ...]]
    lag_s: float | None
    misreading: Misreading | None


def _truth(
    folder: str, build: Callable[[str], Machine], lag_s: float | None, misreading: Misreading | None = None
) -> SampleTruth:
    machines = {setup: build(setup) for setup in SETUPS}
    ratios = {setup: machine.overall_ratios for setup, machine in machines.items()}
    speeds = {
        setup: tuple(machine.speed_per_1000rpm_mps(gear) for gear in range(1, machine.gear_count + 1))
        for setup, machine in machines.items()
    }
    return SampleTruth(
        folder=folder,
        circumference_m=machines["before"].circumference_m,
        change_percent=100.0 * (ratios["before"][0] / ratios["after"][0] - 1.0),
        overall_ratios=ratios,
        speed_per_1000rpm_mps=speeds,
        lag_s=lag_s,
        misreading=misreading,
    )


#: What is true of each sample folder, by name.
SAMPLE_TRUTHS: Final[Mapping[str, SampleTruth]] = {
    "trail-bike": _truth("trail-bike", trail_bike, TRAIL_RECEIVER.latency_s - TRAIL_RPM.lag_s),
    "motorway-commuter": _truth(
        "motorway-commuter",
        commuter_twin,
        None,
        Misreading("after/holds.csv", MISREAD_INDEX + 2, *COMMUTER_PLAN[MISREAD_INDEX], MISREAD_BY_MPS),
    ),
    "no-papers": _truth("no-papers", old_five_speed, NO_PAPERS_LOGGER.speed.latency_s - NO_PAPERS_LOGGER.rpm.lag_s),
}


def write_samples(folder: Path) -> None:
    """Write all sample folders and their README into `folder`, byte for byte the same each time."""
    folder.mkdir(parents=True, exist_ok=True)
    _write_text(folder / "README.md", README)
    _write_trail_bike(folder / "trail-bike")
    _write_motorway_commuter(folder / "motorway-commuter")
    _write_no_papers(folder / "no-papers")


def _write_trail_bike(folder: Path) -> None:
    for k, setup in enumerate(SETUPS):
        rng = np.random.default_rng([300, k])
        machine = trail_bike(setup)
        start_s = START_S + 7200.0 * k
        ride = ten_minute_ride(rng, machine, starts=8)
        track = observe_track(ride, TRAIL_RECEIVER, rng, start_s=start_s)
        rpm = observe_rpm_log(ride, TRAIL_RPM, rng, from_s=2.3, until_s=597.0, start_s=start_s)
        runs = observe_runs(machine, 0.0, 80.0 * MPS_PER_KMH, 5, rng)
        write_track(track.recording, folder / setup / "ride.gpx")
        write_log(rpm.recording, folder / setup / "rpm.csv")
        write_runs(runs, folder / setup / "timed.csv", speed_unit="kmh")
    _write_text(folder / "bike.toml", TRAIL_BIKE_TOML)


def _write_motorway_commuter(folder: Path) -> None:
    for k, setup in enumerate(SETUPS):
        rng = np.random.default_rng([500, k])
        machine = commuter_twin(setup)
        sheet = observe_sheet(machine, COMMUTER_PLAN, rng)
        if setup == "after":
            sheet = misread(sheet, MISREAD_INDEX, MISREAD_BY_MPS)
        write_sheet(sheet, folder / setup / "holds.csv", speed_unit="mph")
        runs = observe_runs(machine, 0.0, 60.0 * MPS_PER_MPH, 1, rng)
        write_runs(runs, folder / setup / "timed.csv", speed_unit="mph")
    _write_text(folder / "bike.toml", MOTORWAY_COMMUTER_TOML)


def _write_no_papers(folder: Path) -> None:
    for k, setup in enumerate(SETUPS):
        rng = np.random.default_rng([400, k])
        log = observe_log(ten_minute_ride(rng, old_five_speed(setup)), NO_PAPERS_LOGGER, rng)
        write_log(log.recording, folder / setup / "log.csv", speed_unit="kmh")


def _write_text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
