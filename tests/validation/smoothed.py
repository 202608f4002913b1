"""Receivers that smooth their speed: do the levels hold, and is first gear accused of what the filter does?

Run by hand: ``python -m tests.validation.smoothed --rides 20``. The filter is a filter, not a delay: its differential
equation is solved exactly on the ride's own fine grid, and only then sampled. Nothing of it is shared with the fit.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.ratios.agreement import common_level
from gearfit.fitting.ratios.quantiles import t_quantile
from gearfit.fitting.setup_fit import fit_setup
from gearfit.fitting.which_gear.ladder import from_teeth
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machines import commuter_twin
from tests.simulator.recorder import observe_track
from tests.simulator.scripts import ten_minute_ride

FloatArray = NDArray[np.float64]
Filter = Callable[[FloatArray, float], FloatArray]

#: Time constants of the adaptive filter, s, steady and in hard acceleration, and the acceleration half way, m/s2.
STEADY_S, HARD_S, HALF_MPS2 = 0.6, 0.1, 1.5


def first_order(speed_mps: FloatArray, step_s: float, time_s: FloatArray | float) -> FloatArray:
    """Solve dy/dt = (v - y)/T, v held between the steps: y moves by the share 1 - exp(-step/T) of what it lacks."""
    share = 1 - np.exp(-step_s / np.broadcast_to(time_s, speed_mps.shape))
    shown = np.empty_like(speed_mps)
    now = float(speed_mps[0])
    for k, (value, part) in enumerate(zip(speed_mps.tolist(), share.tolist(), strict=True)):
        now += part * (value - now)
        shown[k] = now
    return shown


def adaptive(speed_mps: FloatArray, step_s: float) -> FloatArray:
    """Filter the less, the harder the machine accelerates: 0.6 s while steady, towards 0.1 s."""
    hard = np.abs(np.gradient(speed_mps, step_s))
    return first_order(speed_mps, step_s, HARD_S + (STEADY_S - HARD_S) / (1 + (hard / HALF_MPS2) ** 2))


FILTERS: dict[str, Filter] = {
    "none": lambda speed_mps, step_s: speed_mps,
    "first order, 0.4 s": lambda speed_mps, step_s: first_order(speed_mps, step_s, 0.4),
    "adaptive, 0.1 to 0.6 s": adaptive,
}


def one(seed: int, rate_hz: float, smooth: Filter) -> tuple[FloatArray, list[bool], bool]:
    """Return each level's error in per cent, whether its interval holds it, and whether first gear is accused."""
    machine = commuter_twin("before")
    ride = ten_minute_ride(np.random.default_rng([71_000, seed]), machine)
    shown = replace(ride, speed_mps=smooth(ride.speed_mps, ride.step_s))
    rng = np.random.default_rng([72_000, seed])
    recording = observe_track(shown, SpeedChannel(rate_hz=rate_hz), rng, rpm=RpmChannel()).recording
    fit = fit_setup(gather([recording]), from_teeth(machine.bike, machine.bike.setup("before")))
    if fit.levels is None:
        return np.empty(0), [], False
    levels = fit.levels
    truth = np.log([1000 / machine.speed_per_1000rpm_mps(int(gear)) for gear in levels.gear])
    error = levels.log_ratio - truth
    held = np.abs(error) <= t_quantile(0.975, levels.dof) * np.sqrt(np.diag(levels.covariance))
    agrees = common_level(error, levels.covariance, levels.dof).agrees
    return 100 * error, [bool(h) for h in held], bool((~agrees[levels.gear == 1]).any())


def main() -> None:
    """Print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rides", type=int, default=20)
    parser.add_argument("--first-seed", type=int, default=0)
    asked = parser.parse_args()
    for name, smooth in FILTERS.items():
        for rate_hz in (10.0, 1.0):
            rides = [one(asked.first_seed + k, rate_hz, smooth) for k in range(asked.rides)]
            shown = [ride for ride in rides if ride[1]]
            held = [h for _, all_held, _ in shown for h in all_held]
            first = float(np.mean([error[0] for error, _, _ in shown])) if shown else np.nan
            share = 100 * float(np.mean(held)) if held else np.nan
            print(
                f"{name}, {rate_hz:g} Hz: {len(shown)} of {len(rides)} rides have levels, {share:.1f} % of {len(held)} "
                f"held, first gear {first:+.2f} % and accused in {sum(a for _, _, a in shown)}",
                flush=True,
            )


if __name__ == "__main__":
    main()
