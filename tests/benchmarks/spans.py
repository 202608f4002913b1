"""How long timed spans and the swap on paper take within the analysis of a ride: `python -m tests.benchmarks.spans`.

An invented ride of one hour at 10 Hz with twelve full-throttle starts, before and after a change of one tooth; the
three usual spans. Seconds of processor, the least of five runs, one thread of linear algebra as in `gearfit report`.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from time import process_time
from typing import Any
from unittest.mock import patch

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from gearfit.findings.analysis import analyse
from gearfit.records.recording import RideFolder, RideSetup
from gearfit.thrust.compare import with_swap
from gearfit.timed.find import find_runs
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machines import close_ratio_single
from tests.simulator.recorder import observe_track
from tests.simulator.scripts import full_throttle_ride

SECONDS, STARTS, REPEATS = 3600.0, 12, 5


def timed(what: Callable[..., Any], taken: list[float]) -> Callable[..., Any]:
    """Return the function, keeping book of what it takes."""

    def run(*arguments: Any) -> Any:
        begin = process_time()
        result = what(*arguments)
        taken.append(process_time() - begin)
        return result

    return run


def main() -> None:
    """Print what both take."""
    rng = np.random.default_rng(5)
    setups = []
    for name in ("before", "after"):
        machine = close_ratio_single(name)
        ride = full_throttle_ride(rng, machine, starts=STARTS, duration_s=SECONDS)
        track = observe_track(ride, SpeedChannel(), rng, rpm=RpmChannel())
        setups.append(RideSetup(machine.bike.setup(name), (track.recording,)))
    folder = RideFolder(Path("."), machine.bike, True, tuple(setups), ())
    found: list[float] = []
    predicted: list[float] = []
    with (
        patch("gearfit.findings.analysis.find_runs", timed(find_runs, found)),
        patch("gearfit.findings.analysis.with_swap", timed(with_swap, predicted)),
    ):
        for _ in range(REPEATS):
            result = analyse(folder)
    runs = [len(setup.timed_spans) for setup in result.setups]
    print(f"timed spans of one setup: {min(found):.3f} s ({len(track.recording.samples)} samples, runs {runs})")
    print(f"swap on paper: {min(predicted):.3f} s")


if __name__ == "__main__":
    main()
