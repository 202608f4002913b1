"""Validation study of the estimator; prints the tables of docs/validation.md.

Run by hand: ``python -m tests.validation.estimator --rides 200 --first-seed 1000``. Each ride is ridden before and
after a change of sprocket. Seeds from 1000 on were never looked at while the fit was being mended.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gearfit.comparison.shift import shift
from gearfit.comparison.tooth_pairs import check_pairs
from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.pairing.material import Material
from gearfit.fitting.ratios.drivetrain import fit_drivetrain
from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.ratios.quantiles import t_quantile
from gearfit.fitting.setup_fit import SetupFit, fit_setup, fit_setups
from gearfit.fitting.which_gear.ladder import Ladder, from_teeth
from gearfit.machine.bike import Setup
from gearfit.prediction.gearing import change_percent
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, trail_bike
from tests.simulator.recorder import Observation, observe_track
from tests.simulator.stepless import cvt_ride
from tests.validation.oracle import oracle_levels
from tests.validation.scenarios import SCENARIOS, SETUPS, Scenario, observe_sheets

FloatArray = NDArray[np.float64]

#: Passages from which a gear counts in the comparison with the oracle.
LEAST_PASSAGES = 5
#: Samples this near to a shift do not count in the assignment, s.
EDGE_S = 0.3
#: Time in gear that a gear needs for the number of gears to be asked for, s.
LEAST_IN_GEAR_S = 30.0
GEARS = 6


@dataclass
class Tally:
    """What one pair of rides showed; arrays are per setup and gear ((2, 6), NaN where nothing)."""

    error: FloatArray
    oracle: FloatArray
    passages: FloatArray
    held: list[bool]
    circumference_held: list[bool]
    change_error: float
    change_held: bool | None
    wrong_teeth: bool
    lag_error: list[float]
    lag_held: list[bool]
    right_gear: tuple[int, int]
    false_in_gear: tuple[int, int]
    gears_right: bool | None
    uncertain: bool


def ride_pair(index: int, seed: int) -> Tally:
    """Ride scenario `index` twice and compare with the truth."""
    scenario = SCENARIOS[index]
    tally = Tally(
        np.full((2, GEARS), np.nan), np.full((2, GEARS), np.nan), np.zeros((2, GEARS)),
        [], [], np.nan, None, False, [], [], (0, 0), (0, 0), None, False,
    )  # fmt: skip
    observed = [scenario.observe(seed, setup) for setup in SETUPS]
    materials = [gather([observation.recording]) for _, observation in observed]
    fits = _fits(scenario, observed, materials)
    for k, ((machine, observation), fit) in enumerate(zip(observed, fits, strict=True)):
        _one(tally, k, scenario, machine, observation, fit)
    first, second = (machine for machine, _ in observed)
    reference, other = first.bike.setup("before"), second.bike.setup("after")
    predicted = change_percent(reference, other)
    moved = shift(fits[0].levels, fits[1].levels, predicted)
    if moved.all_gears_percent is not None and predicted is not None:
        tally.change_error = moved.all_gears_percent.value - predicted
        tally.change_held = moved.all_gears_percent.contains(predicted)
        check = check_pairs(reference, Setup(other.name), moved)
        best = [(pair.front, pair.rear) for pair in check.candidates[:1]] if check is not None else []
        tally.wrong_teeth = best != [(other.final_drive.front, other.final_drive.rear)]
    return tally


def all_scenarios(seed: int) -> list[Tally]:
    """Every scenario with one seed: those with the same machine and script share their rides."""
    return [ride_pair(index, seed) for index in range(len(SCENARIOS))]


def _fits(scenario: Scenario, observed: list[tuple[Machine, Observation]], materials: list[Material]) -> list[SetupFit]:
    if scenario.ladder:
        ladders: list[Ladder | None] = [from_teeth(m.bike, m.bike.setup(m.setup)) for m, _ in observed]
        return fit_setups(materials, ladders, [None] * len(materials))
    return fit_setups(materials, [None] * len(materials), [None] * len(materials))


def _one(tally: Tally, k: int, scenario: Scenario, machine: Machine, observation: Observation, fit: SetupFit) -> None:
    truth = np.array([np.log(1000 / machine.speed_per_1000rpm_mps(g + 1)) for g in range(machine.gear_count)])
    truth += np.log1p(scenario.rpm.scale_error)
    stream = fit.material.streams[0]
    in_gear_s = _seconds_in_gear(observation, machine.gear_count)
    if not scenario.ladder and in_gear_s.min() >= LEAST_IN_GEAR_S:
        right = fit.levels is not None and _same(fit.levels.log_ratio, truth)
        tally.gears_right = right if tally.gears_right is None else tally.gears_right and right
    if fit.levels is None or fit.timed is None:
        tally.uncertain = True
        return
    levels, gear = _by_truth(fit.levels, truth)
    quantile = t_quantile(0.975, levels.dof)
    error, se = levels.log_ratio - truth[gear], np.sqrt(np.diag(levels.covariance))
    tally.error[k, gear] = error
    tally.passages[k, gear] = levels.passages
    tally.held += [bool(h) for h in np.abs(error) <= quantile * se]
    oracle = oracle_levels(scenario, observation, stream, machine.gear_count)
    tally.oracle[k, : oracle.size] = oracle - truth
    ratios = np.array(machine.overall_ratios)[gear]
    drive = fit_drivetrain(levels.log_ratio, levels.covariance, ratio=ratios)
    true_c = np.log(machine.circumference_m) - np.log1p(scenario.rpm.scale_error)
    tally.circumference_held.append(
        bool(abs(drive.log_circumference - true_c) <= quantile * np.sqrt(drive.covariance[0, 0]))
    )
    found = fit.timed.streams[0]
    if found.lag_known:
        tally.lag_error.append(found.lag_s - observation.lag_s)
        tally.lag_held.append(bool(abs(tally.lag_error[-1]) <= quantile * found.lag_se_s))
    _assignment(tally, observation, fit, gear)


def _by_truth(levels: Levels, truth: FloatArray) -> tuple[Levels, NDArray[np.int64]]:
    """Keep the levels that are a true gear, and name it (a ladder found without teeth may lack one)."""
    nearest = np.argmin(np.abs(levels.log_ratio[:, None] - truth[None, :]), axis=1)
    kept = np.abs(levels.log_ratio - truth[nearest]) < 0.04
    part = Levels(
        levels.gear[kept], levels.log_ratio[kept], levels.covariance[np.ix_(kept, kept)], levels.dof,
        levels.samples[kept], levels.passages[kept],
    )  # fmt: skip
    return part, nearest[kept]


def _same(found: FloatArray, truth: FloatArray) -> bool:
    return found.size == truth.size and bool((np.abs(np.sort(found) - np.sort(truth)) < 0.03).all())


def _seconds_in_gear(observation: Observation, gears: int) -> FloatArray:
    time_s = observation.recording.samples["time_s"].to_numpy()
    usual_s = float(np.median(np.diff(time_s)))
    gear = observation.truth["gear"].to_numpy()
    return np.array([usual_s * np.sum(gear == g + 1) for g in range(gears)])


def _assignment(tally: Tally, observation: Observation, fit: SetupFit, gear: NDArray[np.int64]) -> None:
    assert fit.timed is not None
    assert fit.levels is not None
    found = fit.timed.streams[0]
    rows = found.stream.rows[found.observed.index]
    true_gear, time_s = observation.truth["gear"].to_numpy(), observation.recording.samples["time_s"].to_numpy()
    changes = np.flatnonzero(np.diff(true_gear) != 0)
    edges = np.sort(np.concatenate([time_s[changes], time_s[changes + 1], [-np.inf, np.inf]]))
    after = np.searchsorted(edges, time_s)
    clear = np.minimum(time_s - edges[after - 1], edges[np.minimum(after, edges.size - 1)] - time_s) > EDGE_S
    name = np.zeros(int(fit.levels.gear.max()) + 2, dtype=np.int64)
    name[fit.levels.gear[: gear.size]] = gear + 1
    given = np.zeros(time_s.size, dtype=np.int64)
    given[rows] = np.where(found.path >= 0, name[np.clip(found.path + 1, 0, name.size - 1)], 0)
    in_gear = np.zeros(time_s.size, dtype=bool)
    in_gear[rows] = found.path >= 0
    inside, outside = clear & (true_gear > 0) & in_gear, clear & (true_gear == 0)
    tally.right_gear = (
        tally.right_gear[0] + int(np.sum(given[inside] == true_gear[inside])), tally.right_gear[1] + int(inside.sum()),
    )  # fmt: skip
    tally.false_in_gear = (
        tally.false_in_gear[0] + int(np.sum(in_gear[outside])), tally.false_in_gear[1] + int(outside.sum()),
    )  # fmt: skip


def sheet_pair(seed: int) -> tuple[list[bool], bool | None, float]:
    """Read sheets before and after: intervals of speeds that hold the truth, that of the change, its error."""
    rng = np.random.default_rng([30_000, seed])
    held: list[bool] = []
    fits, machines = [], []
    for setup in SETUPS:
        machine, recording = observe_sheets(rng, setup)
        fit = fit_setup(gather([recording]), from_teeth(machine.bike, machine.bike.setup(setup)))
        assert fit.levels is not None
        truth = np.array([np.log(1000 / machine.speed_per_1000rpm_mps(int(g))) for g in fit.levels.gear])
        se = np.sqrt(np.diag(fit.levels.covariance))
        held += [bool(h) for h in np.abs(fit.levels.log_ratio - truth) <= t_quantile(0.975, fit.levels.dof) * se]
        fits.append(fit)
        machines.append(machine)
    predicted = change_percent(machines[0].bike.setup("before"), machines[1].bike.setup("after"))
    moved = shift(fits[0].levels, fits[1].levels, predicted).all_gears_percent
    assert moved is not None
    assert predicted is not None
    return held, moved.contains(predicted), moved.value - predicted


def stepless_claims(seed: int) -> tuple[bool, bool]:
    """Whether gears are claimed in a ride without steps, without and with a ladder."""
    build = trail_bike if seed % 2 else close_ratio_single
    rng = np.random.default_rng([40_000, seed])
    machine = build("before")
    observation = observe_track(cvt_ride(rng, machine), SpeedChannel(), rng, rpm=RpmChannel())
    material = gather([observation.recording])
    ladder = from_teeth(machine.bike, machine.bike.setup("before"))
    return fit_setup(material, None).levels is not None, fit_setup(material, ladder).levels is not None


def row(scenario: Scenario, tallies: list[Tally]) -> str:
    """One line of the table."""
    error = np.stack([t.error for t in tallies]).reshape(-1, GEARS)
    oracle = np.stack([t.oracle for t in tallies]).reshape(-1, GEARS)
    enough = np.stack([t.passages for t in tallies]).reshape(-1, GEARS) >= LEAST_PASSAGES
    both = enough & np.isfinite(error) & np.isfinite(oracle)
    ratios = [_rms(error[both[:, g], g]) / _rms(oracle[both[:, g], g]) for g in range(GEARS) if both[:, g].sum() >= 20]
    held = [h for t in tallies for h in t.held]
    c_held = [h for t in tallies for h in t.circumference_held]
    lag = np.array([e for t in tallies for e in t.lag_error])
    lag_held = [h for t in tallies for h in t.lag_held]
    change = np.array([t.change_error for t in tallies if np.isfinite(t.change_error)])
    change_held = [t.change_held for t in tallies if t.change_held is not None]
    right, of = (sum(t.right_gear[i] for t in tallies) for i in (0, 1))
    false, outside = (sum(t.false_in_gear[i] for t in tallies) for i in (0, 1))
    asked = [t.gears_right for t in tallies if t.gears_right is not None]
    cells = [
        scenario.name,
        f"{100 * _rms(error[both]):.3f}" if both.any() else "",
        f"{_rms(error[both]) / _rms(oracle[both]):.2f}" if both.any() else "",
        f"{max(ratios):.2f}" if ratios else "",
        _share(held),
        _share(c_held),
        _share([bool(h) for h in change_held]),
        f"{_rms(change):.3f}" if change.size else "",
        _share(lag_held),
        f"{1000 * _rms(lag):.0f}" if lag.size else "",
        f"{100 * right / of:.3f}" if of else "",
        f"{100 * false / outside:.2f}" if outside else "",
        str(sum(t.wrong_teeth for t in tallies)),
        f"{sum(asked)} of {len(asked)}" if asked else "",
    ]
    return "| " + " | ".join(cells) + " |"


def _rms(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(np.square(values)))) if values.size else float("nan")


def _share(held: list[bool]) -> str:
    return f"{100 * float(np.mean(held)):.1f}" if held else ""


HEAD = (
    "| "
    + " | ".join(
        (
            "scenario",
            "rms of speed per 1000 rpm, %",
            "to oracle",
            "worst gear to oracle",
            "held: speeds",
            "held: circumference",
            "held: change",
            "rms of change, %",
            "held: lag",
            "rms of lag, ms",
            "right gear, %",
            "false in gear, %",
            "wrong teeth",
            "gears right",
        )
    )
    + " |"
)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rides", type=int, default=200)
    parser.add_argument("--first-seed", type=int, default=1000)
    parser.add_argument("--processes", type=int, default=2)
    arguments = parser.parse_args()
    seeds = range(arguments.first_seed, arguments.first_seed + arguments.rides)
    print(f"{arguments.rides} pairs of rides a scenario\n\n{HEAD}\n|{'---|' * 14}", flush=True)
    with ProcessPoolExecutor(arguments.processes) as pool:
        by_seed = list(pool.map(all_scenarios, seeds))
        for index, scenario in enumerate(SCENARIOS):
            print(row(scenario, [tallies[index] for tallies in by_seed]), flush=True)
        pooled = [h for tallies in by_seed for tally in tallies for h in tally.held]
        sheets = list(pool.map(sheet_pair, seeds, chunksize=20))
        held = _share([h for s in sheets for h in s[0]])
        change = f"{_share([bool(s[1]) for s in sheets])} | {_rms(np.array([s[2] for s in sheets])):.3f}"
        print(f"| sheets, 1 mph steps, 6 readings a gear | | | | {held} | | {change} | | | | | | |", flush=True)
        print(f"\nIntervals of speed per 1000 rpm that hold the truth, all rides: {_share(pooled)} %")
        claims = list(pool.map(stepless_claims, seeds, chunksize=10))
    alone, forced = sum(c[0] for c in claims), sum(c[1] for c in claims)
    print(f"Gears claimed in {arguments.rides} rides without steps: {alone} without, {forced} with tooth counts")


if __name__ == "__main__":
    main()
