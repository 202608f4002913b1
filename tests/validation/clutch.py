"""Study of the slipping clutch: how often it is named, and how often a sound one is.

Run by hand: ``python -m tests.validation.clutch --pairs 40 --first-seed 1000``. Each pair is ridden before and after a
change of sprocket, the ride after with a worn clutch (`tests.slipping_clutch`) and once more with a sound one.
"""

from __future__ import annotations

import argparse
from collections import Counter
from pathlib import Path

import numpy as np

import gearfit
from gearfit.records.recording import Recording, RideFolder, RideSetup
from gearfit.records.results import Analysis
from gearfit.units import MPS_PER_KMH
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, commuter_twin, old_five_speed, trail_bike
from tests.simulator.manoeuvres import Coast, EngineBraking, Launch, Manoeuvre, RollOn, Standstill, Stop, Traffic
from tests.simulator.recorder import observe_track
from tests.simulator.ride import TrueRide, simulate
from tests.simulator.road import hilly_road
from tests.simulator.scripts import hold_plan, holds, ten_minute_ride
from tests.simulator.sheets import HandReading, observe_sheet
from tests.slipping_clutch import WornClutch, slipping, worn

MACHINES = (trail_bike, commuter_twin, close_ratio_single, old_five_speed)
#: Findings that put it down to the teeth.
TEETH = ("change-disagrees", "gear-off-its-teeth", "gear-out-of-line", "tooth-pairs")
#: Fastest speed on the closed track, m/s.
_FASTEST_MPS = 47.0


def track_day(rng: np.random.Generator, machine: Machine) -> TrueRide:
    """Starts, full throttle in each gear from third up, and riding in between."""
    top, limit = machine.gear_count, machine.limit_rpm
    script: list[Manoeuvre] = [Standstill(6.0)]
    for _ in range(2):
        script += [Launch(25.0, 0.9 * limit), Stop(), Standstill(5.0)]
        for gear in range(3, top + 1):
            to_rpm = min(0.95 * limit, machine.engine_rpm(40.0, gear))
            script += [RollOn(gear, 0.4 * limit, to_rpm), EngineBraking(0.45 * limit)]
    script += [*holds(hold_plan(machine, (0.45, 0.6)), 6.0), Coast(6.0), Traffic(600.0, 6.0, 30.0, up_share=0.7)]
    return simulate(machine, script, rng, road=hilly_road(rng, 0.012), duration_s=600.0)


SCRIPTS = (track_day, ten_minute_ride)


def clutch(seed: int) -> WornClutch:
    """A worn clutch that carries a fifth to three fifths of the torque and slips by 3 to 8 % at all of it."""
    rng = np.random.default_rng([70_000, seed])
    return WornClutch(float(rng.uniform(0.2, 0.6)), float(rng.uniform(0.03, 0.08)))


def ride(seed: int, setup: str, *, slips: bool) -> tuple[Machine, Recording]:
    """Record one ride at 10 Hz."""
    machine = MACHINES[seed % 4](setup)
    rng = np.random.default_rng([71_000, seed, setup == "after"])
    ridden = SCRIPTS[seed // 4 % 2](rng, machine)
    if slips:
        ridden = slipping(ridden, clutch(seed), rng)
    return machine, observe_track(ridden, SpeedChannel(), rng, rpm=RpmChannel(), file=f"{setup}.gpx").recording


def sheet(seed: int, setup: str, *, slips: bool) -> tuple[Machine, Recording]:
    """Write down four engine speeds in each gear, speeds to 1 km/h."""
    machine = MACHINES[seed % 4](setup)
    plan = [
        (gear, share * machine.limit_rpm)
        for gear in range(1, machine.gear_count + 1)
        for share in (0.4, 0.55, 0.7, 0.8)
        if machine.speed_mps(share * machine.limit_rpm, gear) < _FASTEST_MPS
    ]
    held = worn(machine, clutch(seed)) if slips else machine
    rng = np.random.default_rng([72_000, seed, setup == "after"])
    return machine, observe_sheet(held, plan, rng, reading=HandReading(step_mps=MPS_PER_KMH), file=f"{setup}.csv")


def analysed(seed: int, *, slips: bool, sheets: bool) -> Analysis:
    """Analyse one pair."""
    record = sheet if sheets else ride
    machine, before = record(seed, "before", slips=False)
    _, after = record(seed, "after", slips=slips)
    setups = tuple(
        RideSetup(machine.bike.setup(name), (recording,)) for name, recording in (("before", before), ("after", after))
    )
    return gearfit.analyse(RideFolder(Path(), machine.bike, True, setups, ()))


def outcome(analysis: Analysis) -> tuple[bool, bool]:
    """Whether the clutch is named, and whether anything is put down to the teeth without a word on the clutch."""
    codes = {finding.code for finding in analysis.findings}
    alone = any(finding.code in TEETH and "clutch" not in finding.text for finding in analysis.findings)
    return "clutch-suspect" in codes, alone


def main() -> None:
    """Print the table of docs/validation.md."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=40)
    parser.add_argument("--first-seed", type=int, default=1000)
    asked = parser.parse_args()
    print("| pairs | clutch | clutch named | teeth blamed, clutch not named |\n|---|---|---|---|")
    for sheets in (False, True):
        for slips in (True, False):
            seen: Counter[tuple[bool, bool]] = Counter()
            for seed in range(asked.first_seed, asked.first_seed + asked.pairs):
                seen[outcome(analysed(seed, slips=slips, sheets=sheets))] += 1
            named = seen[True, True] + seen[True, False]
            kind = "sheets" if sheets else "rides at 10 Hz"
            print(
                f"| {asked.pairs} of {kind} | {'worn' if slips else 'sound'} | {named} | {seen[False, True]} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
