"""Clock offset between a track and an engine-speed log of their own recorders: error and time of the alignment.

Run by hand: ``python -m tests.validation.clocks --rides 40``; its table is in docs/validation.md.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from time import process_time

import numpy as np

from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.setup_fit import fit_setup
from gearfit.fitting.which_gear.ladder import from_teeth
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machines import commuter_twin
from tests.simulator.recorder import observe_rpm_log, observe_track
from tests.simulator.scripts import ten_minute_ride

LENGTH_S = 3600.0
LATENCY_S = 0.3
#: Farthest that the clocks are apart in each row, s.
APART_S = (60.0, 3600.0)


def one(apart_s: float, seed: int) -> tuple[float, float, float, float] | None:
    """Error of the offset before and after the fit, its standard error, and the time of joining, s; None if refused."""
    rng = np.random.default_rng([70_000, int(apart_s), seed])
    machine = commuter_twin("before")
    ride = ten_minute_ride(rng, machine, duration_s=LENGTH_S)
    track = observe_track(ride, SpeedChannel(latency_s=LATENCY_S), rng)
    ahead_s = float(rng.uniform(-apart_s, apart_s))
    rpm = RpmChannel()
    log = observe_rpm_log(ride, rpm, rng, clock="utc", clock_offset_s=ahead_s)
    began = process_time()
    material = gather([track.recording, log.recording])
    taken_s = process_time() - began
    if not material.streams:
        return None
    stream = material.streams[0]
    own_s = log.recording.samples["time_s"].to_numpy()
    shift_s = float(stream.rpm_time_s[0] - own_s[0])
    fit = fit_setup(material, from_teeth(machine.bike, machine.bike.setup("before")))
    if fit.timed is None:
        return None
    found = fit.timed.streams[0]
    lead_s = LATENCY_S - rpm.lag_s
    return shift_s - lead_s, shift_s + found.lag_s - lead_s, found.lag_se_s, taken_s


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rides", type=int, default=40)
    parser.add_argument("--first-seed", type=int, default=1000)
    parser.add_argument("--processes", type=int, default=2)
    arguments = parser.parse_args()
    seeds = range(arguments.first_seed, arguments.first_seed + arguments.rides)
    print("| clocks apart by up to, s | rides | refused | joined within, s rms | after the fit, ms rms | time, s |")
    print("|---|---|---|---|---|---|", flush=True)
    with ProcessPoolExecutor(arguments.processes) as pool:
        for apart_s in APART_S:
            results = list(pool.map(one, [apart_s] * len(seeds), seeds))
            good = np.array([r for r in results if r is not None])
            rms = np.sqrt(np.mean(good**2, axis=0))
            refused = len(results) - len(good)
            print(
                f"| {apart_s:.0f} | {len(results)} | {refused} | {rms[0]:.3f} | {1000 * rms[1]:.1f} | "
                f"{np.median(good[:, 3]):.2f} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
