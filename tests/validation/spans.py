"""Validation study of the timed spans; prints the tables of docs/validation-spans.md.

Run by hand: ``python -m tests.validation.spans --rides 200``. `--base` chooses other rides; docs/validation-spans.md
tells which were looked at while the method was being mended.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from gearfit.comparison.run_means import difference, run_mean
from gearfit.records.results import TimedSpan
from gearfit.timed.asked import Span
from tests.validation.span_rides import (
    MACHINES,
    RECEIVERS,
    ROLL_ON,
    START,
    Found,
    TrueRun,
    found_in,
    ride_of,
    true_runs,
)

FloatArray = NDArray[np.float64]

#: A found run belongs to a true one if it starts within this, s.
SAME_S = 1.0
#: Scatter of the rider's own runs, share of the time; true difference of the second setup; pairs of setups.
RUN_SCATTER = 0.02
DIFFERENCE_S = -0.25
PAIRS = 20_000


@dataclass
class Tally:
    """Errors and standard errors of the runs of one ride by one receiver."""

    error_s: list[float] = field(default_factory=list)
    se_s: list[float] = field(default_factory=list)
    machine: list[int] = field(default_factory=list)
    runs: int = 0
    missed: int = 0
    interrupted: int = 0
    invented: int = 0


#: Title, span and manner of each table.
TABLES = (
    ("0 to 100 km/h, standing starts", START, "standing start"),
    ("60 to 100 km/h, roll-ons in one gear", ROLL_ON, "roll-on"),
    ("60 to 100 km/h on the way of a standing start", ROLL_ON, "through the gears"),
)


def one_ride(seed: int, base: int) -> list[list[Tally]]:
    """Ride once, record with every receiver, find the runs: a tally for each receiver and table."""
    ride = ride_of(seed, base)
    tallies = []
    for k, (_, receiver, with_engine) in enumerate(RECEIVERS):
        found = found_in(ride, receiver, with_engine, np.random.default_rng([base, seed, k]))
        delay_s = receiver.latency_s - found.begun_s
        each = [Tally() for _ in TABLES]
        for tally, (_, span, kind) in zip(each, TABLES, strict=True):
            _count(tally, true_runs(ride, span), found, span, kind, delay_s, seed % len(MACHINES))
        tallies.append(each)
    return tallies


def _excused(reason: str) -> bool:
    return reason.startswith(("interrupted: no sample", "too few samples"))


def _blind(time_s: FloatArray, run: TrueRun, begun_s: float) -> bool:
    """Whether reception failed for more than a second at the start, at the end or within the run."""
    first, last = run.start_s - begun_s, run.start_s - begun_s + run.time_s
    near = time_s[(time_s > first - 2.5) & (time_s < last + 1.5)]
    return near.size < 3 or float(np.max(np.diff(near))) > 1.05 or near[0] > first or near[-1] < last


def _match(run: TrueRun, runs: list[TimedSpan], delay_s: float) -> TimedSpan | None:
    for one in runs:
        if one.start_s is not None and abs(one.start_s - delay_s - run.start_s) < SAME_S:
            return one
    return None


def _count(tally: Tally, truth: list[TrueRun], found: Found, span: Span, kind: str, delay_s: float, of: int) -> None:
    """Add what was found over one span; what was ridden otherwise than by `kind` is only no invention."""
    timed = [run for run in found.runs.timed if run.to_mps == span.to_mps and run.from_mps == span.from_mps]
    left_out = [one for one in found.runs.left_out if one.from_mps == span.from_mps]
    taken = []
    for run in truth:
        counts = run.open_throttle and run.kind == kind
        tally.runs += counts
        one = _match(run, timed, delay_s)
        if one is None:
            cut = any(
                o.start_s is not None and abs(o.start_s - delay_s - run.start_s) < 3 and _excused(o.reason)
                for o in left_out
            )
            excused = cut or _blind(found.time_s, run, found.begun_s)
            tally.interrupted += counts and excused
            tally.missed += counts and not excused
            continue
        taken.append(one)
        if counts:
            tally.error_s.append(one.time_s.value - run.time_s)
            tally.se_s.append(one.time_s.se)
            tally.machine.append(of)
        elif not run.open_throttle:
            tally.invented += 1
    tally.invented += len(timed) - len(taken)


def differences(tallies: list[Tally], n: int, gap_s: float, rng: np.random.Generator) -> tuple[float, float]:
    """Share of intervals that hold the true difference, and of claims that the second setup is quicker.

    Both setups are the same machine; the errors of a setup's runs are those of one ride, of more where it has too few.
    """
    rides = [[t for t in tallies if t.machine and t.machine[0] == m] for m in range(len(MACHINES))]
    held = quicker = 0
    for _ in range(PAIRS):
        same = rides[int(rng.integers(len(MACHINES)))]
        sides = []
        for mean_s in (6.0, 6.0 + gap_s):
            error_s, se_s = _drawn(same, n, rng)
            times = mean_s * (1 + RUN_SCATTER * rng.standard_normal(n)) + error_s
            sides.append(run_mean(times, se_s))
        found = difference(sides[0], sides[1])
        assert found is not None
        held += found.contains(gap_s)
        quicker += found.hi95 < 0
    return held / PAIRS, quicker / PAIRS


def _drawn(rides: list[Tally], n: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    error_s: list[float] = []
    se_s: list[float] = []
    while len(error_s) < n:
        ride = rides[int(rng.integers(len(rides)))]
        error_s, se_s = error_s + ride.error_s, se_s + ride.se_s
    return np.array(error_s[:n]), np.array(se_s[:n])


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rides", type=int, default=200)
    parser.add_argument("--base", type=int, default=5)
    parser.add_argument("--processes", type=int, default=2)
    arguments = parser.parse_args()
    n = arguments.rides
    with ProcessPoolExecutor(arguments.processes) as pool:
        every = list(pool.map(one_ride, range(n), [arguments.base] * n, chunksize=4))
    print(f"{n} rides")
    for t, (title, *_) in enumerate(TABLES):
        run_table(title, [[each[t] for each in ride] for ride in every])
    print(
        "\n| receiver | runs a setup | held, % | held, nothing changed, % | false “quicker”, % |\n|---|---|---|---|---|"
    )
    rng = np.random.default_rng([arguments.base, 77])
    for k, (name, _, _) in enumerate(RECEIVERS):
        if name in ("10 Hz", "1 Hz"):
            tallies = [ride[k][0] for ride in every]
            for runs in (3, 5, 8):
                held, _ = differences(tallies, runs, DIFFERENCE_S, rng)
                same, false = differences(tallies, runs, 0.0, rng)
                print(f"| {name} | {runs} | {100 * held:.1f} | {100 * same:.1f} | {100 * false:.1f} |", flush=True)


def run_table(title: str, every: list[list[Tally]]) -> None:
    """Print the table of one span."""
    names = [build("before").bike.name for build, _, _ in MACHINES]
    columns = ["runs", "missed", "interrupted", "invented", "rms error, s", *names]
    columns += ["mean error, s", "mean standard error, s", "held, %"]
    print(f"\n{title}:\n\n| receiver | " + " | ".join(columns) + " |\n|" + "---|" * (len(columns) + 1))
    for k, (name, _, _) in enumerate(RECEIVERS):
        tallies = [one[k] for one in every]
        error = np.array([x for t in tallies for x in t.error_s])
        se = np.array([x for t in tallies for x in t.se_s])
        machine = np.array([m for t in tallies for m in t.machine])
        by = [f"{np.sqrt(np.mean(error[machine == m] ** 2)):.3f}" for m in range(len(MACHINES))]
        cells = [
            name,
            *(str(sum(getattr(t, part) for t in tallies)) for part in ("runs", "missed", "interrupted", "invented")),
            f"{np.sqrt(np.mean(error**2)):.3f}",
            *by,
            f"{np.mean(error):+.3f}",
            f"{np.mean(se):.3f}",
            f"{100 * np.mean(np.abs(error) <= 1.96 * se):.1f}",
        ]
        print("| " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main()
