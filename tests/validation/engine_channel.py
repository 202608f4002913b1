"""Study of coarse, cut and offset engine speeds; prints one line a row.

Run by hand: ``python -m tests.validation.engine_channel --pairs 60``. Ten-minute rides before and after a change of
sprocket with the same logger; levels are of all gears, the sixth (or highest) gear by itself.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np

from gearfit.comparison.shift import shift
from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.ratios.drivetrain import fit_drivetrain
from gearfit.fitting.ratios.quantiles import t_quantile
from gearfit.fitting.setup_fit import fit_setups
from gearfit.fitting.which_gear.ladder import from_teeth
from gearfit.prediction.gearing import change_percent
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.recorder import observe_track
from tests.simulator.scripts import ten_minute_ride
from tests.validation.scenarios import MACHINES, SETUPS, _ridden

#: Row: step in rev/min, cut down, offset in rev/min.
ROWS = (
    (1.0, False, 0.0),
    (50.0, False, 0.0),
    (100.0, False, 0.0),
    (250.0, False, 0.0),
    (50.0, True, 0.0),
    (100.0, True, 0.0),
    (250.0, True, 0.0),
    (1.0, False, 60.0),
    (1.0, False, -60.0),
)


def pair(row: tuple[float, bool, float], seed: int) -> tuple[list[bool], bool, list[bool], bool, float]:
    """Levels held, highest gear held, circumferences held, change held, error of the change in %."""
    step, cut, offset = row
    build, rate_hz = MACHINES[seed % len(MACHINES)], (1.0, 5.0, 10.0)[seed // len(MACHINES) % 3]
    machines, logs = [], []
    for k, setup in enumerate(SETUPS):
        machine, ride = _ridden(build, ten_minute_ride, seed, setup)
        rng = np.random.default_rng([70_000, ROWS.index(row), seed, k])
        rpm = RpmChannel(rate_hz=rate_hz, step_rpm=step, floored=cut)
        shifted = replace(ride, engine_rpm=np.where(ride.engine_rpm > 0, ride.engine_rpm + offset, 0.0))
        logs.append(observe_track(shifted, SpeedChannel(rate_hz=rate_hz), rng, rpm=rpm).recording)
        machines.append(machine)
    fits = fit_setups(
        [gather([log]) for log in logs], [from_teeth(m.bike, m.bike.setup(m.setup)) for m in machines], [None, None]
    )
    held: list[bool] = []
    highest: list[bool] = []
    circumference: list[bool] = []
    for machine, fit in zip(machines, fits, strict=True):
        assert fit.levels is not None
        levels = fit.levels
        truth = np.array([np.log(1000 / machine.speed_per_1000rpm_mps(int(g))) for g in levels.gear])
        quantile = t_quantile(0.975, levels.dof)
        inside = np.abs(levels.log_ratio - truth) <= quantile * np.sqrt(np.diag(levels.covariance))
        held += [bool(h) for h in inside]
        highest.append(bool(inside[-1]))
        drive = fit_drivetrain(
            levels.log_ratio, levels.covariance, ratio=np.array(machine.overall_ratios)[levels.gear - 1]
        )
        error = drive.log_circumference - np.log(machine.circumference_m)
        circumference.append(bool(abs(error) <= quantile * np.sqrt(drive.covariance[0, 0])))
    predicted = change_percent(machines[0].bike.setup("before"), machines[1].bike.setup("after"))
    assert predicted is not None
    moved = shift(fits[0].levels, fits[1].levels, predicted).all_gears_percent
    assert moved is not None
    return held, all(highest), circumference, moved.contains(predicted), moved.value - predicted


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=60)
    parser.add_argument("--first-seed", type=int, default=1000)
    parser.add_argument("--rows", type=int, nargs="*", default=list(range(len(ROWS))))
    arguments = parser.parse_args()
    print("| step, rpm | cut | offset, rpm | held: levels | highest gear | circumference | change | rms of change, % |")
    print("|---|---|---|---|---|---|---|---|")
    for row in (ROWS[i] for i in arguments.rows):
        seen = [pair(row, arguments.first_seed + k) for k in range(arguments.pairs)]
        shares = [
            np.mean([h for s in seen for h in s[0]]),
            np.mean([s[1] for s in seen]),
            np.mean([h for s in seen for h in s[2]]),
            np.mean([s[3] for s in seen]),
        ]
        cells = [f"{row[0]:g}", "yes" if row[1] else "no", f"{row[2]:g}", *(f"{100 * s:.1f}" for s in shares)]
        print("| " + " | ".join([*cells, f"{np.sqrt(np.mean([s[4] ** 2 for s in seen])):.3f}"]) + " |", flush=True)


if __name__ == "__main__":
    main()
