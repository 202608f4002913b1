"""Row by row: engines of other shapes, first gears held back, and hands that stop short of the stop.

Run by `python -m tests.validation.swap --cases 30`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from gearfit.findings.analysis import analyse
from gearfit.records.recording import RideFolder, RideSetup
from gearfit.records.thrust_results import SwapOnPaper
from gearfit.thrust.paper import swap_on_paper
from gearfit.thrust.swap import Asked
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.recorder import observe_track
from tests.simulator.ride import simulate
from tests.validation.swap import SHARES, SPANS_KMH, crossing_s, machine_of, one_tooth_fewer
from tests.validation.swap_rides import Hand, Pull, hard_ride, with_engine

BUILT = "as built"
FULL = Hand()


@dataclass(frozen=True)
class Case:
    """A row: engine, share of the strongest thrust to which first gear is held (two ends; 0: free), hand, rate."""

    name: str
    engine: str = BUILT
    held: tuple[float, float] = (0.0, 0.0)
    hand: Hand = FULL
    rate_hz: float = 10.0
    limit_stated: bool = True


HELD = (0.7, 0.85)
CASES = (
    *(
        Case(f"full throttle, {engine}, {how}, {rate:g} Hz", engine, held, FULL, rate)
        for rate in (10.0, 5.0)
        for engine in (BUILT, "peaky", "flat", "two humps")
        for how, held in (("first gear free", (0.0, 0.0)), ("held back", HELD))
    ),
    Case("full throttle, as built, first gear held to 90 %", held=(0.9, 0.9)),
    Case("full throttle, peaky, first gear held to 90 %", "peaky", (0.9, 0.9)),
    Case("full throttle, limit not stated", limit_stated=False),
    Case("full throttle, changing up at 75 %", hand=Hand(shift_share=0.75)),
    *(
        Case(f"{100 * share:.0f} % throttle, {engine}, {rate:g} Hz", engine, hand=Hand(share), rate_hz=rate)
        for rate in (10.0, 5.0)
        for engine in (BUILT, "peaky")
        for share in (0.6, 0.7, 0.8, 0.9)
    ),
    Case("70 % throttle, changing up at 70 %", hand=Hand(0.7, shift_share=0.7)),
    Case("70 % throttle, alike within 1 %", hand=Hand(0.7, 0.01, 0.01)),
)


def predicted(seed: int, case: Case) -> tuple[SwapOnPaper | None, list[tuple[float, ...]]]:
    """Return what is predicted of one ride, and of each span truth, prediction and interval of the change.

    Then the truth at full throttle, and how much longer the time on paper is than the true one there.
    """
    rng = np.random.default_rng([seed, 7])
    machine = with_engine(machine_of(rng, False), case.engine)
    if case.held[1]:
        lever = machine.overall_ratios[0] * 2 * math.pi / machine.circumference_m
        most_n = max(machine.torque_nm) * machine.efficiency * lever
        machine = replace(machine, thrust_limit_n=float(rng.uniform(*case.held)) * most_n)
    ride = hard_ride(rng, machine, case.hand)
    receiver, engine = SpeedChannel(rate_hz=case.rate_hz), RpmChannel(rate_hz=case.rate_hz)
    setup = RideSetup(machine.bike.setup("before"), (observe_track(ride, receiver, rng, rpm=engine).recording,))
    bike = replace(machine.bike, setups=(setup.setup,))
    if not case.limit_stated:
        bike = replace(bike, engine=replace(bike.engine, limit_rpm=None))
    result = analyse(RideFolder(Path("."), bike, True, (setup,), ())).setups[0]
    other = one_tooth_fewer(machine)
    factor = machine.overall_ratios[0] / other.overall_ratios[0]
    swap = swap_on_paper(bike, setup, result, "after", factor, [Asked(a / 3.6, b / 3.6) for a, b in SPANS_KMH])
    if swap is None:
        return None, []
    before, after = _true_times(machine, case.hand, rng), _true_times(other, case.hand, rng)
    wide = replace(case.hand, throttle=FULL.throttle)
    full = [_true_times(one, wide, rng) for one in (machine, other)]
    rows: list[tuple[float, ...]] = []
    for span, found in zip(SPANS_KMH, swap.spans, strict=True):
        change = found.difference_s
        if change is not None and math.isfinite(before[span]) and math.isfinite(after[span]):
            assert found.reference_s is not None
            opened, longer = full[1][span] - full[0][span], found.reference_s.value - full[0][span]
            rows.append((after[span] - before[span], change.value, change.lo95, change.hi95, opened, longer))
    return swap, rows


def _true_times(machine: Machine, hand: Hand, rng: np.random.Generator) -> dict[tuple[float, float], float]:
    total = dict.fromkeys(SPANS_KMH, 0.0)
    for share in SHARES:
        shift_rpm = machine.limit_rpm * hand.shift_share * (1 + hand.shift_sd * share)
        pull = Pull(29.0, shift_rpm, (hand.throttle,) * machine.gear_count, machine.thrust_limit_n)
        ride = simulate(replace(machine, thrust_limit_n=math.inf), [pull], rng)
        for span in SPANS_KMH:
            low, high = (crossing_s(ride, speed / 3.6) for speed in span)
            total[span] += (high - low) / len(SHARES)
    return total


def print_rows(rides: int, first_seed: int, begins: str = "") -> None:
    """Print one row for each case whose name begins so."""
    print(
        "| case | rides with times | said to be held back | rms error [s] | coverage of 95 % | mean half width [s] "
        "| coverage at full throttle | times longer than at full throttle [s] |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for case in (case for case in CASES if case.name.startswith(begins)):
        each = [predicted(seed, case) for seed in range(first_seed, first_seed + rides)]
        swaps = [swap for swap, _ in each if swap is not None]
        rows = np.array([row for _, spans in each for row in spans]).reshape(-1, 6)
        held = sum(swap.held_back for swap in swaps)
        said = f"| {case.name} | {len(swaps)} of {rides} | {held} |"
        if rows.size:
            true, value, lo, hi, opened, longer = rows.T
            inside = float(np.mean((lo <= true) & (true <= hi)))
            said += (
                f" {np.sqrt(np.mean((value - true) ** 2)):.3f} | {100 * inside:.0f} % | {np.mean(hi - lo) / 2:.3f} |"
                f" {100 * np.mean((lo <= opened) & (opened <= hi)):.0f} % | {np.mean(longer):+.2f} |"
            )
        else:
            said += " – | – | – | – | – |"
        print(said, flush=True)
