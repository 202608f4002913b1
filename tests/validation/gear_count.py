"""How many gears: the fit without tooth counts on short, long and city rides, next to mixtures and plain peaks.

Run by hand: ``python -m tests.validation.gear_count --rides 200 --first-seed 1000``; its table is in
docs/validation.md. Every method sees the same samples. Seeds from 1000 on were never looked at while tuning.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.pairing.observed import Observed
from gearfit.fitting.setup_fit import fit_setup
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, commuter_twin, trail_bike
from tests.simulator.recorder import Observation, observe_track
from tests.simulator.ride import TrueRide
from tests.simulator.scripts import city_ride, ten_minute_ride
from tests.validation.plain_methods import METHODS

FloatArray = NDArray[np.float64]

MACHINES = (trail_bike, commuter_twin, close_ratio_single)
#: A gear was ridden, and has to be found, with this many samples and seconds in it.
LEAST_SAMPLES = 5
LEAST_S = 5.0
#: A step found is a gear when this near to it, ln ratio.
SAME = 0.03
SLOW = SpeedChannel(1.0, 0.3, 0.05, 0.15, 2.0)


@dataclass(frozen=True)
class Kind:
    """One kind of ride: name, length in seconds, receiver, city or open road."""

    name: str
    shortest_s: float
    longest_s: float
    speed: SpeedChannel
    city: bool = False


KINDS = (
    Kind("open road, 10 Hz, 10 minutes", 600, 600, SpeedChannel()),
    Kind("open road, 1 Hz, 200 to 1000 samples", 200, 1000, SLOW),
    Kind("open road, 10 Hz, 200 to 1000 samples", 20, 100, SpeedChannel()),
    Kind("city, 10 Hz, 10 minutes", 600, 600, SpeedChannel(), city=True),
    Kind("city, 1 Hz, 200 to 1000 samples", 200, 1000, SLOW, city=True),
)


def ride(kind: Kind, seed: int) -> tuple[Machine, Observation]:
    """Ride one of the machines, in turn, and record it; a short ride is cut out of a longer one at a random place."""
    rng = np.random.default_rng([50_000 + KINDS.index(kind), seed])
    machine = MACHINES[seed % len(MACHINES)]("before")
    length_s = float(rng.uniform(kind.shortest_s, kind.longest_s))
    whole: TrueRide = (city_ride if kind.city else ten_minute_ride)(rng, machine, duration_s=max(length_s, 600.0))
    observation = observe_track(whole, kind.speed, rng, rpm=RpmChannel())
    time_s = observation.recording.samples["time_s"].to_numpy()
    start_s = float(rng.uniform(0, max(time_s[-1] - length_s, 0)))
    return machine, _cut(observation, start_s, start_s + length_s)


def _cut(observation: Observation, from_s: float, to_s: float) -> Observation:
    time_s = observation.recording.samples["time_s"]
    inside = ((time_s >= from_s) & (time_s <= to_s)).to_numpy()
    samples = observation.recording.samples[inside].reset_index(drop=True)
    truth = observation.truth[inside].reset_index(drop=True)
    return replace(observation, recording=replace(observation.recording, samples=samples), truth=truth)


def verdict(found: FloatArray | None, truth: FloatArray, must: NDArray[np.bool_]) -> str:
    """Say "right" (every ridden gear and no other step), "wrong", or "uncertain" where nothing was claimed."""
    if found is None or found.size == 0:
        return "uncertain"
    distance = np.abs(found[:, None] - truth[None, :])
    invented = distance.min(axis=1) > SAME
    doubled = np.bincount(distance.argmin(axis=1), minlength=truth.size) > 1
    missed = must & (distance.min(axis=0) > SAME)
    return "wrong" if invented.any() or doubled.any() or missed.any() else "right"


def judge(index: int, seed: int) -> tuple[bool, dict[str, str]]:
    """Whether each gear of the box has 30 s, and the verdict on every method."""
    machine, observation = ride(KINDS[index], seed)
    truth = np.array([np.log(1000 / machine.speed_per_1000rpm_mps(g + 1)) for g in range(machine.gear_count)])
    gear = observation.truth["gear"].to_numpy()
    usual_s = float(np.median(np.diff(observation.recording.samples["time_s"])))
    samples = np.array([np.sum(gear == g + 1) for g in range(machine.gear_count)])
    must = (samples >= LEAST_SAMPLES) & (samples * usual_s >= LEAST_S)
    fit = fit_setup(gather([observation.recording]), None)
    found = fit.levels.log_ratio if fit.levels is not None else None
    verdicts = {"gearfit": verdict(found, truth, must)}
    if verdicts["gearfit"] == "wrong" and fit.timed is not None and fit.timed.doubtful.size:
        undecided = np.abs(truth[:, None] - fit.timed.doubtful).min(axis=1) <= SAME
        if verdict(found, truth, must & ~undecided) == "right":
            verdicts["gearfit"] = "uncertain"
    if fit.timed is not None:
        seen: Observed = fit.timed.streams[0].observed
        for name, method in METHODS.items():
            verdicts[name] = verdict(method(seen.log_ratio, int(must.sum())), truth, must)
    return bool((samples * usual_s >= 30).all()), verdicts


def row(name: str, verdicts: Sequence[dict[str, str]]) -> str:
    """One line of the table: right of asked, uncertain and wrong of ours, right of each plain method."""
    asked = len(verdicts)
    if not asked:
        return f"| {name} | 0 |" + " |" * (3 + len(METHODS))
    counts = [sum(v.get("gearfit") == word for v in verdicts) for word in ("right", "uncertain", "wrong")]
    plain = [sum(v.get(method) == "right" for v in verdicts) for method in METHODS]
    cells = [name, str(asked), *(f"{100 * count / asked:.1f}" for count in counts + plain)]
    return "| " + " | ".join(cells) + " |"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rides", type=int, default=200)
    parser.add_argument("--first-seed", type=int, default=1000)
    parser.add_argument("--processes", type=int, default=2)
    arguments = parser.parse_args()
    seeds = range(arguments.first_seed, arguments.first_seed + arguments.rides)
    head = ["rides", "asked", "right, %", "uncertain, %", "wrong, %", *(f"{name}: right, %" for name in METHODS)]
    print("| " + " | ".join(head) + " |\n|" + "---|" * len(head), flush=True)
    with ProcessPoolExecutor(arguments.processes) as pool:
        for index, kind in enumerate(KINDS):
            found = list(pool.map(judge, [index] * len(seeds), seeds, chunksize=5))
            print(row(kind.name, [verdicts for _, verdicts in found]), flush=True)
            print(row("... of these, 30 s in each gear", [v for full, v in found if full]), flush=True)


if __name__ == "__main__":
    main()
