"""Simulation study of the speedometer check; prints the tables of docs/validation-speedometer.md.

Run by hand: ``python -m tests.validation.speedometer`` (about five minutes on one core; ``--part`` for a part).
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from gearfit.comparison.pick_up import pick_up
from gearfit.machine.bike import Bike, FinalDrive, Setup
from gearfit.records.recording import Recording
from gearfit.records.results import Speedometer
from gearfit.speedometer.gather import gather_pairs
from gearfit.speedometer.judge import judge
from gearfit.speedometer.rules import R39, Rule, rule
from gearfit.units import MPS_PER_KMH, MPS_PER_MPH
from tests.simulator.dash import Dash, observe_dash, steady_sheet
from tests.simulator.instruments import SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, commuter_twin, old_five_speed, trail_bike
from tests.simulator.scripts import ten_minute_ride
from tests.simulator.sheets import Speedometer as Instrument

MACHINES: tuple[Callable[[str], Machine], ...] = (trail_bike, commuter_twin, close_ratio_single, old_five_speed)
RULE = rule(R39)
HEAD = (
    "| what | n | gain, rms error [%] | offset, rms error [km/h] | gain held [%] | offset held [%] | error at 80 km/h "
    "held [%] | called curved |\n|---|---|---|---|---|---|---|---|"
)
SETUP = Setup("before")


@dataclass(frozen=True)
class Errors:
    """Estimate less truth and whether the interval holds the truth, one entry a ride."""

    gain_percent: list[float]
    offset_kmh: list[float]
    gain_held: list[bool]
    offset_held: list[bool]
    error_held: list[bool]
    bent: int

    def lines(self, name: str) -> str:
        """One row of a Markdown table."""
        gain, offset = (float(np.sqrt(np.mean(np.square(e)))) for e in (self.gain_percent, self.offset_kmh))
        held = [f"{100 * np.mean(h):.1f}" for h in (self.gain_held, self.offset_held, self.error_held)]
        n = len(self.gain_percent)
        return f"| {name} | {n} | {gain:.3f} | {offset:.3f} | {' | '.join(held)} | {self.bent} |"


def instrument(rng: np.random.Generator) -> tuple[float, float, float]:
    """Gain, offset (m/s) and damping (s) as instruments have them."""
    return float(rng.uniform(0.97, 1.10)), float(rng.uniform(-1, 3)) * MPS_PER_KMH, float(rng.uniform(0.1, 0.9))


def check(recording: Recording, against: Rule = RULE) -> Speedometer:
    """Check the speedometer of one recording."""
    gathered = gather_pairs(Bike(), SETUP, [recording], None, False)
    assert gathered is not None
    found = judge(gathered, against)
    assert isinstance(found, Speedometer), found
    return found


def rides(n: int, dash: Dash | None = None, receiver: SpeedChannel | None = None, seed: tuple[int, ...] = ()) -> Errors:
    """Ten-minute rides with a whole-km/h display beside a receiver of 10 Hz."""
    errors = Errors([], [], [], [], [], 0)
    bent = 0
    for k in range(n):
        rng = np.random.default_rng([61, k, *seed])
        ride = ten_minute_ride(rng, MACHINES[k % len(MACHINES)]("before"))
        gain, offset, damping_s = instrument(rng)
        shown = replace(dash or Dash(Instrument()), speedometer=Instrument(gain, offset), damping_s=damping_s)
        found = check(observe_dash(ride, shown, receiver or SpeedChannel(), rng))
        if shown.floored:
            offset -= shown.step_mps / 2
        bent += not found.linear
        add(errors, found, gain, offset)
    return replace(errors, bent=bent)


def sheets(n: int, rows: int, step_mps: float, seed: tuple[int, ...] = ()) -> tuple[Errors, Counter[str], int]:
    """Sheets of steady readings; returns verdicts, and how many of "within" and "outside" are wrong."""
    errors, verdicts, wrong = Errors([], [], [], [], [], 0), Counter[str](), 0
    for k in range(n):
        rng = np.random.default_rng([62, rows, k, *seed])
        gain, offset = float(rng.uniform(0.96, 1.12)), float(rng.uniform(-1, 4)) * MPS_PER_KMH
        true = np.sort(rng.uniform(25, 125, rows)) * MPS_PER_KMH
        found = check(steady_sheet(gain, offset, true, rng, step_mps=step_mps))
        add(errors, found, gain, offset)
        lawful = all((p.allowed_lo_mps or 0) <= offset + gain * p.true_mps <= (p.allowed_hi_mps or 0) for p in found.at)
        said = found.verdict.split(" (")[0]
        verdicts[said] += 1
        wrong += (said == "within" and not lawful) or (said == "outside" and lawful)
    return errors, verdicts, wrong


def add(errors: Errors, found: Speedometer, gain: float, offset_mps: float) -> None:
    """Note one ride."""
    errors.gain_percent.append(100 * (found.gain.value / gain - 1))
    errors.offset_kmh.append((found.offset_mps.value - offset_mps) / MPS_PER_KMH)
    errors.gain_held.append(found.gain.contains(gain))
    errors.offset_held.append(found.offset_mps.contains(offset_mps))
    middle = found.at[1]
    errors.error_held.append(middle.error_mps.contains(offset_mps + (gain - 1) * middle.true_mps))


def swaps(n: int, seed: tuple[int, ...] = ()) -> Iterator[tuple[str, str, str]]:
    """One-tooth swaps ridden before and after; yields the end, the true pick-up and what was told."""
    for k in range(n):
        rng = np.random.default_rng([63, k, *seed])
        build = MACHINES[k % len(MACHINES)]
        driven = ("wheel", "gearbox output")[(k // 4) % 2]
        end, step = (("front", -1), ("front", 1), ("rear", -1), ("rear", 1))[(k // 8) % 4]
        machine = build("before")
        drive = machine.bike.setup("before").final_drive
        assert drive.front is not None
        assert drive.rear is not None
        swapped = FinalDrive(
            front=drive.front + (step if end == "front" else 0), rear=drive.rear + (step if end == "rear" else 0)
        )
        first, second = Setup("before", drive, machine.bike.tyre), Setup("after", swapped, machine.bike.tyre)
        machine = replace(machine, bike=replace(machine.bike, setups=(first, second)))
        gain, offset, damping_s = instrument(rng)
        found = []
        for setup in (first, second):
            own = machine.fitted_with(setup.name)
            one = Instrument(gain, offset, "wheel" if driven == "wheel" else "gearbox output", "before")
            ride = ten_minute_ride(rng, own)
            found.append(check(observe_dash(ride, Dash(one, damping_s=damping_s), SpeedChannel(), rng)))
        told = pick_up(first, second, found[0], found[1])
        assert told is not None
        yield end, driven, told.driven_from


def undecidable(n: int, seed: tuple[int, ...] = ()) -> Counter[str]:
    """One tooth at the rear told from sheets of five readings in steps of 5 km/h: too coarse to say anything."""
    told: Counter[str] = Counter()
    first, second = (Setup(name, FinalDrive(front=15, rear=rear)) for name, rear in (("before", 45), ("after", 46)))
    for k in range(n):
        rng = np.random.default_rng([64, k, *seed])
        driven = k % 2
        gain, offset, _ = instrument(rng)
        found = []
        for setup in (first, second):
            moved = gain * (46 / 45 if driven and setup is second else 1.0)
            true = (np.linspace(30, 110, 5) + rng.uniform(-5, 5, 5)) * MPS_PER_KMH
            found.append(check(steady_sheet(moved, offset, true, rng, step_mps=5 * MPS_PER_KMH)))
        answer = pick_up(first, second, found[0], found[1])
        assert answer is not None
        right = ("a wheel", "gearbox output")[driven]
        told[answer.driven_from if answer.driven_from == "cannot tell" else str(answer.driven_from == right)] += 1
    return told


def print_rides(n: int, seed: tuple[int, ...]) -> None:
    """Print the table of rides."""
    print(HEAD, flush=True)
    print(rides(n, seed=seed).lines("ten minutes, 10 Hz, whole km/h, rounded"), flush=True)
    print(rides(n // 2, Dash(Instrument(), floored=True), seed=seed).lines("the same, cut off downwards"), flush=True)
    print(rides(n // 2, receiver=SpeedChannel(rate_hz=1.0), seed=seed).lines("the same, 1 Hz"), flush=True)
    print(rides(n // 4, Dash(Instrument(), step_mps=MPS_PER_MPH), seed=seed).lines("the same, whole mph"), flush=True)


def print_sheets(n: int, seed: tuple[int, ...]) -> None:
    """Print the tables of sheets."""
    print(HEAD, flush=True)
    tables = []
    for rows, step, name in (
        (10, MPS_PER_KMH, "whole km/h"),
        (20, MPS_PER_KMH, "whole km/h"),
        (10, MPS_PER_MPH, "whole mph"),
        (10, 5 * MPS_PER_KMH, "5 km/h"),
    ):
        errors, verdicts, wrong = sheets(2 * n, rows, step, seed)
        print(errors.lines(f"sheet of {rows} readings, {name}"), flush=True)
        counts = " | ".join(str(verdicts[said]) for said in ("within", "outside", "cannot tell yet"))
        tables.append(f"| sheet of {rows} readings, {name} | {counts} | {wrong} |")
    print("\n| what | within | outside | cannot tell yet | wrong |\n|---|---|---|---|---|")
    print("\n".join(tables), flush=True)


def print_swaps(n: int, seed: tuple[int, ...]) -> None:
    """Print the table of swaps."""
    print("| one-tooth swaps | told rightly | told wrongly | cannot tell | neither |\n|---|---|---|---|---|")
    told: Counter[tuple[str, str]] = Counter()
    for end, driven, answer in swaps(n, seed):
        right = "a wheel" if driven == "wheel" else driven
        told[f"{end}, {driven}", answer if answer in ("cannot tell", "neither") else str(answer == right)] += 1
    for name in sorted({name for name, _ in told}):
        counts = " | ".join(str(told[name, said]) for said in ("True", "False", "cannot tell", "neither"))
        print(f"| {name} | {counts} |")
    coarse = undecidable(2 * n, seed)
    counts = " | ".join(str(coarse[said]) for said in ("True", "False", "cannot tell", "neither"))
    print(f"| rear, five readings to 5 km/h | {counts} |")


PARTS = {"rides": print_rides, "sheets": print_sheets, "swaps": print_swaps}


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description="Simulation study of the speedometer check.")
    parser.add_argument("--rides", type=int, default=200)
    parser.add_argument("--part", choices=PARTS, help="one part only")
    parser.add_argument("--seed", type=int, help="other rides than those of the page")
    arguments = parser.parse_args()
    seed = () if arguments.seed is None else (arguments.seed,)
    for name, show in PARTS.items():
        if arguments.part in (None, name):
            show(arguments.rides, seed)
            print()


if __name__ == "__main__":
    main()
