"""Study of the swap on paper: `python -m tests.validation.swap --rides 60`.

Each ride is five standing starts at full throttle and some ordinary riding on an invented machine whose drag, turning
parts, stated mass and shift speed are drawn anew. The swap is predicted from the recorded ride (10 Hz) and compared
with the truth: the same rider simulated with one tooth fewer in front, on the level, without recorder, as the mean over
the rider's scatter of the shift speed. One ride in four has so strong an engine, or so little grip, that first gear is
held back. With `--cases 30` other rides are predicted, row by row: engines of other shapes, and hands that stop short
of the stop (`swap_cases`). docs/validation-swap.md holds the tables and says which seeds were looked at.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import NormalDist

import numpy as np

from gearfit.findings.analysis import analyse
from gearfit.machine.bike import FinalDrive
from gearfit.records.recording import RideFolder, RideSetup
from gearfit.thrust.paper import swap_on_paper
from gearfit.thrust.swap import Asked
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, commuter_twin, old_five_speed, trail_bike
from tests.simulator.manoeuvres import Launch
from tests.simulator.recorder import observe_track
from tests.simulator.ride import TrueRide, simulate
from tests.simulator.scripts import full_throttle_ride

SPANS_KMH = ((0.0, 60.0), (0.0, 96.56), (0.0, 100.0), (60.0, 100.0))
SHIFT_SHARE, SHIFT_SD = 0.88, 0.02
RATES_HZ = (10.0, 5.0, 1.0)
#: Standing starts of a ride, and how much longer one more makes it, s.
STARTS, START_S = 5, 36.0
#: Middles of equal shares of a normal scatter: so many that one change of gear more or less weighs 0.01 s at most.
SHARES = tuple(NormalDist().inv_cdf((k + 0.5) / 31) for k in range(31))


@dataclass(frozen=True)
class Outcome:
    """One span of one ride."""

    seed: int
    span_kmh: tuple[float, float]
    held_back: bool
    found_held_back: bool
    true_s: float
    predicted_s: float
    se_s: float
    lo95_s: float
    hi95_s: float


def machine_of(rng: np.random.Generator, held_back: bool) -> Machine:
    """Return one of the invented machines with drag, turning parts and stated mass of its own."""
    build = (trail_bike, commuter_twin, close_ratio_single, old_five_speed)[int(rng.integers(4))]
    machine = build("before")
    stated_kg = machine.mass_kg * float(1 + 0.02 * rng.standard_normal())
    machine = replace(
        machine,
        bike=replace(machine.bike, total_kg=stated_kg),
        drag_area_m2=machine.drag_area_m2 * float(np.exp(0.12 * rng.standard_normal())),
        rolling_coefficient=machine.rolling_coefficient * float(np.exp(0.2 * rng.standard_normal())),
        engine_inertia_kgm2=machine.engine_inertia_kgm2 * float(np.exp(0.3 * rng.standard_normal())),
        wheel_mass_kg=machine.wheel_mass_kg * float(np.exp(0.2 * rng.standard_normal())),
    )
    if held_back:
        lever = machine.overall_ratios[0] * 2 * math.pi / machine.circumference_m
        could_n = max(machine.torque_nm) * machine.efficiency * lever
        machine = replace(machine, thrust_limit_n=float(rng.uniform(0.7, 0.85)) * could_n)
    return machine


def one_tooth_fewer(machine: Machine) -> Machine:
    """Return the machine with one tooth fewer in front."""
    drive = machine.bike.setup(machine.setup).final_drive
    assert drive.front is not None
    other = FinalDrive(front=drive.front - 1, rear=drive.rear)
    setups = tuple(replace(setup, final_drive=other) for setup in machine.bike.setups)
    return replace(machine, bike=replace(machine.bike, final_drive=other, setups=setups))


def true_times(machine: Machine, rng: np.random.Generator) -> dict[tuple[float, float], float]:
    """Mean time of each span over the rider's scatter; infinite where the machine does not get there."""
    total = dict.fromkeys(SPANS_KMH, 0.0)
    for share in SHARES:
        shift_rpm = machine.limit_rpm * SHIFT_SHARE * (1 + SHIFT_SD * share)
        ride = simulate(machine, [Launch(29.0, shift_rpm)], rng)
        for span in SPANS_KMH:
            low, high = (crossing_s(ride, speed / 3.6) for speed in span)
            total[span] += (high - low) / len(SHARES)
    return total


def crossing_s(ride: TrueRide, speed_mps: float) -> float:
    """Moment at which a speed is first reached."""
    above = np.flatnonzero(ride.speed_mps >= speed_mps)
    if above.size == 0:
        return math.inf
    k = int(above[0])
    if k == 0:
        return 0.0
    share = (speed_mps - ride.speed_mps[k - 1]) / (ride.speed_mps[k] - ride.speed_mps[k - 1])
    return float(ride.time_s[k - 1] + share * ride.step_s)


def outcomes(seed: int, rate_hz: float = 10.0, starts: int = STARTS) -> list[Outcome]:
    """Predict and compare the spans of one ride, recorded at a rate; empty where nothing was predicted."""
    rng = np.random.default_rng([seed, 5])
    held_back = seed % 4 == 3
    machine = machine_of(rng, held_back)
    ride = full_throttle_ride(
        rng,
        machine,
        starts=starts,
        shift_share=SHIFT_SHARE,
        shift_sd=SHIFT_SD,
        duration_s=420.0 + START_S * (starts - STARTS),
    )
    receiver, engine = SpeedChannel(rate_hz=rate_hz), RpmChannel(rate_hz=rate_hz)
    recording = observe_track(ride, receiver, rng, rpm=engine).recording
    setup = RideSetup(machine.bike.setup("before"), (recording,))
    bike = replace(machine.bike, setups=(setup.setup,))
    result = analyse(RideFolder(Path("."), bike, True, (setup,), ())).setups[0]
    other = one_tooth_fewer(machine)
    factor = machine.overall_ratios[0] / other.overall_ratios[0]
    asked = [Asked(low / 3.6, high / 3.6) for low, high in SPANS_KMH]
    swap = swap_on_paper(bike, setup, result, "after", factor, asked)
    if swap is None:
        return []
    before, after = true_times(machine, rng), true_times(other, rng)
    return [
        Outcome(
            seed,
            span,
            held_back,
            swap.held_back,
            after[span] - before[span],
            found.difference_s.value,
            found.difference_s.se,
            found.difference_s.lo95,
            found.difference_s.hi95,
        )
        for span, found in zip(SPANS_KMH, swap.spans, strict=True)
        if found.difference_s is not None and math.isfinite(before[span]) and math.isfinite(after[span])
    ]


def table(found: list[Outcome]) -> list[str]:
    """Return the rows of the table: spans, then first gear held back or not, then slower with shorter gearing."""
    groups = [(f"{low:g} to {high:g} km/h", [o for o in found if o.span_kmh == (low, high)]) for low, high in SPANS_KMH]
    groups += [
        ("all spans", found),
        ("first gear held back", [o for o in found if o.held_back]),
        ("first gear not held back", [o for o in found if not o.held_back]),
        ("truly slower with the shorter gearing", [o for o in found if o.true_s > 0]),
    ]
    rows = [
        "| cases | n | rms error [s] | mean error [s] | coverage of 95 % | mean half width [s] |",
        "|---|---|---|---|---|---|",
    ]
    for name, group in groups:
        if not group:
            continue
        error = np.array([o.predicted_s - o.true_s for o in group])
        inside = np.mean([o.lo95_s <= o.true_s <= o.hi95_s for o in group])
        half = np.mean([(o.hi95_s - o.lo95_s) / 2 for o in group])
        rows.append(
            f"| {name} | {len(group)} | {np.sqrt(np.mean(error**2)):.3f} | {error.mean():+.3f} "
            f"| {100 * inside:.0f} % | {half:.3f} |"
        )
    return rows


def main(argv: list[str] | None = None) -> int:
    """Run the study and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.validation.swap", description="Study of the swap on paper.")
    parser.add_argument("--rides", type=int, default=60)
    parser.add_argument("--first-seed", type=int, default=3000)
    parser.add_argument("--starts", type=int, default=STARTS, help="standing starts in each ride")
    parser.add_argument("--rates", type=float, nargs="+", default=RATES_HZ, metavar="HZ")
    parser.add_argument("--cases", type=int, default=0, help="rides for each row of engines and hands, instead")
    parser.add_argument("--row", default="", metavar="NAME", help="with --cases: only the rows whose name begins so")
    parser.add_argument("--list", action="store_true", help="print every span")
    arguments = parser.parse_args(argv)
    if arguments.cases:
        from tests.validation.swap_cases import print_rows

        print_rows(arguments.cases, arguments.first_seed, arguments.row)
        return 0
    seeds = range(arguments.first_seed, arguments.first_seed + arguments.rides)
    for rate_hz in arguments.rates:
        each = {seed: outcomes(seed, rate_hz, arguments.starts) for seed in seeds}
        found = [outcome for one in each.values() for outcome in one]
        if arguments.list:
            for outcome in found:
                print(outcome)
        print(f"\n{rate_hz:g} Hz:\n\n" + "\n".join(table(found)))
        held = [one[0] for one in each.values() if one]
        right = sum(outcome.held_back == outcome.found_held_back for outcome in held)
        print(f"\n{len(held)} of {len(each)} rides predicted; ", end="")
        print(f"first gear held back told rightly in {right} of {len(held)}", flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
