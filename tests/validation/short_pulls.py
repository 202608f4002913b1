"""Short pulls through the gears, twenty seconds each: are the gears right, do the intervals hold, is any invented?

Run by hand: ``python -m tests.validation.short_pulls --pulls 300 --first-seed 1000``; its table is in
docs/validation.md. Seeds from 1000 on were never looked at while tuning. Rides are those of
`tests.validation.pull_physics`, written as a log and read back.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.setup_fit import SetupFit, fit_setup
from gearfit.fitting.which_gear.ladder import Ladder, from_teeth
from gearfit.importers import read_log
from gearfit.machine.bike import Bike, FinalDrive, Gearbox, Setup, Tyre
from gearfit.records.recording import Recording
from tests.validation.pull_physics import STEP_S, Drawn, Pull, draw_machine, ride

FloatArray = NDArray[np.float64]

RATES_HZ = (5.0, 10.0, 20.0, 25.0, 50.0, 100.0)
#: A gear has to be found with this time in it, clutch locked, s.
LEAST_S = 1.0
#: A step found is a gear when this near to it, ln ratio (half the least step of the machines drawn), or within so many
#: of its own standard errors while nearer to it than to any other.
SAME = 0.045
WITHIN = 3.0
#: Below these log odds the report warns that the gears may be numbered one off.
WARNED_ODDS = 3.0


@dataclass(frozen=True, eq=False)
class Case:
    """A pull with its log, and what is true of it: ln(n/v) as the log should show it, seconds in each gear."""

    pull: Pull
    recording: Recording
    ladder: Ladder
    levels: FloatArray
    seconds: FloatArray
    rate_hz: float
    lag_s: float


def case(seed: int, top: int | None = None) -> Case:
    """Draw a machine, ride it, record it: any rate from 5 to 100 Hz, any lag up to 0.4 s."""
    rng = np.random.default_rng([61_000, seed])
    machine = draw_machine(rng)
    pull = ride(machine, rng, top=top)
    rate_hz, lag_s = float(rng.choice(RATES_HZ)), float(rng.uniform(0.0, 0.4))
    tachometer = float(rng.normal(1, 0.01))
    text = log_text(pull, rate_hz, lag_s, tachometer, rng)
    seconds = np.array([STEP_S * float(np.sum(pull.gear == g + 1)) for g in range(machine.overall.size)])
    return Case(
        pull, read_text(text), ladder(machine, rng), machine.levels + np.log(tachometer), seconds, rate_hz, lag_s
    )


def log_text(pull: Pull, rate_hz: float, lag_s: float, tachometer: float, rng: np.random.Generator) -> str:
    """Write the log: engine speed in steps, speed late by `lag_s` with an error that hangs together, in steps too."""
    time_s = np.arange(0.0, float(pull.time_s[-1]), 1 / rate_hz)
    white, drift, over_s = float(rng.uniform(0.02, 0.08)), float(rng.uniform(0.03, 0.12)), float(rng.uniform(0.5, 2.0))
    speed = np.interp(time_s - lag_s, pull.time_s, pull.speed_mps)
    error = np.zeros(time_s.size)
    keep = np.exp(-1 / (rate_hz * over_s))
    kicks = rng.normal(0, drift * np.sqrt(1 - keep**2), time_s.size)
    error[0] = rng.normal(0, drift)
    for k in range(1, time_s.size):
        error[k] = keep * error[k - 1] + kicks[k]
    moving = speed > 0.3
    shown = np.where(moving, np.maximum(speed + error + rng.normal(0, white, time_s.size), 0), 0.0) * 3.6
    rpm = np.interp(time_s, pull.time_s, pull.engine_rpm) * tachometer * rng.normal(1, 0.002, time_s.size)
    step = float(rng.choice([1.0, 10.0, 25.0]))
    decimals = int(rng.choice([1, 2]))
    frame = pd.DataFrame({"time_s": time_s, "rpm": step * np.round(rpm / step), "speed_kmh": np.round(shown, decimals)})
    return str(frame.to_csv(index=False, float_format="%.3f"))


def read_text(text: str) -> Recording:
    """Read a log as if it had been dropped into a folder."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "pull.csv"
        path.write_text(text)
        return read_log(path)


def ladder(machine: Drawn, rng: np.random.Generator) -> Ladder:
    """What bike.toml would state: the true teeth, and a tyre whose circumference is known to 1.5 %."""
    primary, final = 2.6, 45 / 15
    tyre = Tyre(rolling_circumference_mm=1000 * machine.circumference_m * float(rng.normal(1, 0.015)))
    gearbox = Gearbox(primary, tuple(float(i) for i in machine.overall / (primary * final)))
    drive = FinalDrive(front=15, rear=45)
    setup = Setup("before", drive, tyre)
    bike = Bike(gearbox=gearbox, final_drive=drive, tyre=tyre, setups=(setup,))
    found = from_teeth(bike, setup)
    assert found is not None
    return found


def verdict(fit: SetupFit, found: Case, *, known: bool) -> tuple[float, int]:
    """Return 1 for right, 0.5 for uncertain, 0 for wrong, and the false gears nothing warned of."""
    must = found.seconds >= LEAST_S
    doubtful = fit.timed.doubtful if fit.timed is not None else np.empty(0)
    near = 2 * SAME
    unclear = np.array([bool((np.abs(doubtful - level) < near).any()) for level in found.levels])
    if fit.levels is None:
        return (0.5 if unclear[must].all() else 0.0), 0
    engaged = np.where(found.seconds > 0, found.levels, np.inf)
    nearest = np.abs(fit.levels.log_ratio[:, None] - engaged)
    false = nearest.min(axis=1) > np.maximum(SAME, WITHIN * np.sqrt(np.diag(fit.levels.covariance)))
    at = nearest.argmin(axis=1)
    missed = must & ~np.isin(np.arange(must.size), at[~false])
    if known:
        shift = fit.timed.shift if fit.timed is not None else None
        false |= fit.levels.gear != at + 1
        if shift is not None and shift.log_odds < WARNED_ODDS:
            return (0.5 if false.any() else 1.0), 0
    unwarned = false & ~uncertain_steps(fit)
    if fit.timed is not None and fit.timed.by_runs and not false.all():
        gears, shown = np.arange(must.size), at[~false]
        unclear |= (gears < shown.min()) | (gears > shown.max())
    if unwarned.any() or (missed & ~unclear).any():
        return 0.0, int(unwarned.sum())
    return (0.5 if false.any() or missed.any() else 1.0), 0


def uncertain_steps(fit: SetupFit) -> NDArray[np.bool_]:
    """Which of the levels the report calls uncertain."""
    assert fit.levels is not None
    return np.full(fit.levels.gear.size, fit.timed is not None and fit.timed.by_runs)


def held(fit: SetupFit, found: Case) -> list[bool]:
    """Whether each 95 % interval of a speed per 1000 rev/min holds the truth."""
    if fit.levels is None:
        return []
    at = np.abs(fit.levels.log_ratio[:, None] - found.levels).argmin(axis=1)
    z = (fit.levels.log_ratio - found.levels[at]) / np.sqrt(np.diag(fit.levels.covariance))
    right = np.abs(fit.levels.log_ratio - found.levels[at]) < SAME
    return [bool(inside) for inside in np.abs(z[right]) <= stats.t.ppf(0.975, fit.levels.dof)]


@dataclass
class Tally:
    """What the pulls of one kind showed."""

    right: list[float]
    false: int
    inside: list[bool]

    def row(self, name: str) -> str:
        """One line of the table."""
        counts = [100 * float(np.mean([value == part for value in self.right])) for part in (1.0, 0.5, 0.0)]
        cells = [name, str(len(self.right)), f"{100 * np.mean(self.right):.1f}", *(f"{c:.1f}" for c in counts)]
        share = f"{100 * np.mean(self.inside):.1f} of {len(self.inside)}" if self.inside else ""
        return "| " + " | ".join([*cells, share, str(self.false)]) + " |"


def study(seeds: Sequence[int], *, known: bool) -> Tally:
    """Fit the pulls of these seeds."""
    tally = Tally([], 0, [])
    for seed in seeds:
        found = case(seed)
        fit = fit_setup(gather([found.recording]), found.ladder if known else None)
        right, false = verdict(fit, found, known=known)
        tally.right.append(right)
        tally.false += false
        tally.inside += held(fit, found)
    return tally


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pulls", type=int, default=300)
    parser.add_argument("--first-seed", type=int, default=1000)
    arguments = parser.parse_args()
    seeds = range(arguments.first_seed, arguments.first_seed + arguments.pulls)
    head = (
        "| tooth counts | pulls | score, % | right, % | uncertain, % | wrong, % | held: speeds, % | false, unwarned |"
    )
    print(head + "\n|" + "---|" * 8, flush=True)
    print(study(seeds, known=True).row("stated"), flush=True)
    print(study(seeds, known=False).row("not stated"), flush=True)


if __name__ == "__main__":
    main()
