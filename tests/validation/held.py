"""Held-rpm sheets as people write them: how many are matched rightly, left alone, or matched wrongly.

Run by hand: ``python -m tests.validation.held --sheets 200 --first-seed 1000``; its table is in docs/validation.md.
Rides and sheets come from `tests.validation.held_habits`, which shares no code with the matching: holds of 5 to 20 s
with a needle that drifts, traffic in between, rows written down and not held, holds not written down, rows in another
order.
Every sheet is analysed with the gearbox stated and without, with no times, times to the second and to the minute.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from gearfit.comparison.shift import shift
from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.ratios.drivetrain import fit_drivetrain
from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.ratios.quantiles import t_quantile
from gearfit.fitting.setup_fit import SetupFit, fit_setup
from gearfit.fitting.which_gear.ladder import from_teeth
from gearfit.importers.formats import read_log
from gearfit.prediction.gearing import change_percent
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, commuter_twin, old_five_speed, trail_bike
from tests.validation.held_habits import TIMES, Ridden, ride, sheet_text

FloatArray = NDArray[np.float64]

MACHINES = (trail_bike, commuter_twin, close_ratio_single, old_five_speed)
SETUPS = ("before", "after")
#: Scale errors of tachometers, relative; both rides of a machine share one.
TACHOMETER_SD = 0.015
#: Beyond this, relative, a wrong result is a wrong match and no interval that is a little too narrow.
FAR = 0.01
CASES = tuple((gearbox, times) for gearbox in (True, False) for times in TIMES)


def judge(seed: int) -> dict[tuple[bool, str, str], list[tuple[str, float]]]:
    """Verdicts ("right", "cannot tell", "wrong") with errors, relative, for each case and quantity."""
    tachometer = float(np.random.default_rng([60_000, seed]).normal(0, TACHOMETER_SD))
    build = MACHINES[seed % len(MACHINES)]
    rides = [ride(build(setup), np.random.default_rng([60_001, seed, k]), tachometer) for k, setup in enumerate(SETUPS)]
    said: dict[tuple[bool, str, str], list[tuple[str, float]]] = {}
    for gearbox, times in CASES:
        fits = [_fit(ridden, gearbox, times) for ridden in rides]
        said[gearbox, times, "change"] = [_change(rides, fits)]
        said[gearbox, times, "speeds in gear"] = [
            verdict for ridden, fit in zip(rides, fits, strict=True) for verdict in _levels(ridden, fit.levels)
        ]
        if gearbox:
            said[gearbox, times, "circumference"] = [
                _circumference(ridden, fit.levels) for ridden, fit in zip(rides, fits, strict=True)
            ]
    return said


def _fit(ridden: Ridden, gearbox: bool, times: str) -> SetupFit:
    machine = ridden.machine
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "holds.csv"
        path.write_text(sheet_text(ridden, times), encoding="utf-8")
        sheet = read_log(path)
    ladder = from_teeth(machine.bike, machine.bike.setup(machine.setup)) if gearbox else None
    return fit_setup(gather([ridden.track, sheet]), ladder)


def _truth(machine: Machine, scale: float) -> FloatArray:
    speeds = np.array([machine.speed_per_1000rpm_mps(g + 1) for g in range(machine.gear_count)])
    truth: FloatArray = np.log(1000 / speeds) + np.log1p(scale)
    return truth


def _verdict(error: float, half: float) -> tuple[str, float]:
    return ("right" if abs(error) <= half else "wrong", error)


def _levels(ridden: Ridden, levels: Levels | None) -> list[tuple[str, float]]:
    truth = _truth(ridden.machine, ridden.tachometer)
    if levels is None:
        return [("cannot tell", 0.0)] * truth.size
    half = t_quantile(0.975, levels.dof) * np.sqrt(np.diag(levels.covariance))
    said = [("cannot tell", 0.0)] * truth.size
    for gear, level, width in zip(levels.gear, levels.log_ratio, half, strict=True):
        said[int(gear) - 1] = _verdict(float(level - truth[int(gear) - 1]), float(width))
    return said


def _circumference(ridden: Ridden, levels: Levels | None) -> tuple[str, float]:
    if levels is None:
        return ("cannot tell", 0.0)
    ratios = np.array(ridden.machine.overall_ratios)[levels.gear - 1]
    drive = fit_drivetrain(levels.log_ratio, levels.covariance, ratio=ratios)
    true = np.log(ridden.machine.circumference_m) - np.log1p(ridden.tachometer)
    half = t_quantile(0.975, levels.dof) * drive.covariance[0, 0] ** 0.5
    return _verdict(float(drive.log_circumference - true), float(half))


def _change(rides: list[Ridden], fits: list[SetupFit]) -> tuple[str, float]:
    bike = rides[0].machine.bike
    predicted = change_percent(*(bike.setup(setup) for setup in SETUPS))
    found = shift(fits[0].levels, fits[1].levels, predicted).all_gears_percent
    if found is None or predicted is None:
        return ("cannot tell", 0.0)
    return ("right" if found.contains(predicted) else "wrong", (found.value - predicted) / 100)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sheets", type=int, default=200)
    parser.add_argument("--first-seed", type=int, default=1000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--verbose", action="store_true", help="name the seeds that are far off")
    arguments = parser.parse_args()
    seeds = range(arguments.first_seed, arguments.first_seed + arguments.sheets // 2)
    with ProcessPoolExecutor(arguments.processes) as pool:
        found = list(pool.map(judge, seeds, chunksize=2))
    head = ["gearbox", "times", "quantity", "asked", "right", "cannot tell", "wrong", "of told, %", "off by over 1 %"]
    print("| " + " | ".join([*head, "rms error, %"]) + " |\n|" + "---|" * (len(head) + 1))
    for case in found[0]:
        verdicts = [verdict for said in found for verdict in said[case]]
        count = Counter(word for word, _ in verdicts)
        far = [
            s for s, said in zip(seeds, found, strict=True) if any(w == "wrong" and abs(e) > FAR for w, e in said[case])
        ]
        errors = np.array([error for word, error in verdicts if word != "cannot tell"])
        told = count["right"] + count["wrong"]
        wrong = sum(word == "wrong" and abs(error) > FAR for word, error in verdicts)
        cells = [
            "stated" if case[0] else "not stated", case[1], case[2], len(verdicts), count["right"],
            count["cannot tell"], count["wrong"], f"{100 * count['wrong'] / max(told, 1):.1f}", wrong,
            f"{100 * np.sqrt(np.mean(errors**2)):.2f}" if told else "",
        ]  # fmt: skip
        print("| " + " | ".join(str(cell) for cell in cells) + " |", *(far if arguments.verbose else []))


if __name__ == "__main__":
    main()
