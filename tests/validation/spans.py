"""Validation study of the timed spans; prints the tables of docs/validation-spans.md.

Run by hand: ``python -m tests.validation.spans --rides 200``. `--base` chooses other rides: those of base 1 were looked
at while the method was being mended, those of base 2, the default, were not.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from gearfit.comparison.timed_spans import compare_spans
from gearfit.fitting.quantiles import estimate
from gearfit.results import TimedSpan
from gearfit.spans.find import runs_in
from gearfit.spans.noise import noise_in
from tests.validation.span_rides import MACHINES, RECEIVERS, TARGET, TrueRun, ride_of, trace_of, true_runs

FloatArray = NDArray[np.float64]

#: A found run belongs to a true one if it starts within this, s.
SAME_S = 1.0
#: Scatter of the rider's own runs, share of the time; true difference of the second setup; pairs of setups.
RUN_SCATTER = 0.02
DIFFERENCE_S = -0.25
PAIRS = 2000


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


def one_ride(seed: int, base: int) -> list[Tally]:
    """Ride once, record with every receiver, find the runs."""
    ride = ride_of(seed, base)
    truth = true_runs(ride)
    tallies = []
    for k, (_, receiver) in enumerate(RECEIVERS):
        rng = np.random.default_rng([base, seed, k])
        trace = trace_of(ride, receiver, rng)
        found = runs_in([trace], [noise_in(trace, None)], [TARGET])
        tally = Tally()
        _count(tally, truth, found.timed, receiver.latency_s, seed % len(MACHINES))
        for run in truth:
            if run.open_throttle and _match(run, found.timed, receiver.latency_s) is None:
                cut = any(abs(one.start_s - run.start_s) < 3 and _excused(one.reason) for one in found.left_out)
                tally.interrupted += cut or _blind(trace.time_s, run)
                tally.missed += not cut and not _blind(trace.time_s, run)
        tallies.append(tally)
    return tallies


def _excused(reason: str) -> bool:
    return reason.startswith(("interrupted: no sample", "too few samples"))


def _blind(time_s: FloatArray, run: TrueRun) -> bool:
    """Whether reception failed for more than a second at the start, at the end or within the run."""
    near = time_s[(time_s > run.start_s - 2.5) & (time_s < run.start_s + run.time_s + 1.5)]
    return (
        near.size < 3
        or float(np.max(np.diff(near))) > 1.05
        or near[0] > run.start_s
        or near[-1] < run.start_s + run.time_s
    )


def _match(run: TrueRun, found: tuple[TimedSpan, ...], delay_s: float) -> TimedSpan | None:
    for one in found:
        if one.start_s is not None and abs(one.start_s - delay_s - run.start_s) < SAME_S:
            return one
    return None


def _count(tally: Tally, truth: list[TrueRun], found: tuple[TimedSpan, ...], delay_s: float, machine: int) -> None:
    taken = []
    for run in truth:
        tally.runs += run.open_throttle
        one = _match(run, found, delay_s)
        if one is None:
            continue
        taken.append(one)
        if run.open_throttle:
            tally.error_s.append(one.time_s.value - run.time_s)
            tally.se_s.append(one.time_s.se)
            tally.machine.append(machine)
        else:
            tally.invented += 1
    tally.invented += len(found) - len(taken)


def differences(
    error_s: FloatArray, se_s: FloatArray, n: int, gap_s: float, rng: np.random.Generator
) -> tuple[float, float]:
    """Share of intervals that hold the true difference, and of claims that the second setup is quicker."""
    held = quicker = 0
    for _ in range(PAIRS):
        sides = []
        for mean_s in (6.0, 6.0 + gap_s):
            drawn = rng.integers(error_s.size, size=n)
            times = mean_s * (1 + RUN_SCATTER * rng.standard_normal(n)) + error_s[drawn]
            sides.append([_run(float(t), float(se)) for t, se in zip(times, se_s[drawn], strict=True)])
        (compared,) = compare_spans(sides[0], sides[1])
        assert compared.difference_s is not None
        held += compared.difference_s.contains(gap_s)
        quicker += compared.difference_s.hi95 < 0
    return held / PAIRS, quicker / PAIRS


def _run(time_s: float, se_s: float) -> TimedSpan:
    return TimedSpan("ride", 0.0, TARGET.to_mps, 0.0, estimate(time_s, se_s, np.inf), "ride", "standing start")


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rides", type=int, default=200)
    parser.add_argument("--base", type=int, default=2)
    parser.add_argument("--processes", type=int, default=2)
    arguments = parser.parse_args()
    n = arguments.rides
    with ProcessPoolExecutor(arguments.processes) as pool:
        every = list(pool.map(one_ride, range(n), [arguments.base] * n, chunksize=4))
    names = [build("before").bike.name for build, _ in MACHINES]
    print(
        f"{n} rides\n\n| receiver | runs | missed | interrupted | invented | rms error, s | " + " | ".join(names),
        end="",
    )
    print(" | mean error, s | mean standard error, s | held, % |\n|" + "---|" * (9 + len(names)))
    pools = []
    for k, (name, _) in enumerate(RECEIVERS):
        tallies = [tallies[k] for tallies in every]
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
        pools.append((name, error, se))
    print(
        "\n| receiver | runs a setup | held, % | held, nothing changed, % | false “quicker”, % |\n|---|---|---|---|---|"
    )
    rng = np.random.default_rng([arguments.base, 77])
    for name, error, se in pools:
        if name in ("10 Hz", "1 Hz"):
            for runs in (3, 5, 8):
                held, _ = differences(error, se, runs, DIFFERENCE_S, rng)
                same, false = differences(error, se, runs, 0.0, rng)
                print(f"| {name} | {runs} | {100 * held:.1f} | {100 * same:.1f} | {100 * false:.1f} |", flush=True)


if __name__ == "__main__":
    main()
