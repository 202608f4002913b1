"""Archives of many small invented rides: a machine that does not exist, ridden a minute before and after a change."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from tests.simulator.files import write_track
from tests.simulator.machine import Machine
from tests.simulator.machines import trail_bike
from tests.simulator.recorder import START_S, observe_track
from tests.simulator.sample_texts import TRAIL_BIKE_TOML
from tests.simulator.samples import TRAIL_RECEIVER, TRAIL_RPM
from tests.simulator.scripts import hold_plan, holds_only

SETUPS: Final = ("before", "after")
HOLD_S: Final = 8.0


def write_ride(folder: Path, seed: int) -> Path:
    """Write one ride folder (bike.toml, a GPX track of about a minute for each setup) and return it."""
    for number, setup in enumerate(SETUPS):
        rng = np.random.default_rng([seed, number])
        machine: Machine = trail_bike(setup)
        ride = holds_only(rng, machine, plan=hold_plan(machine, (0.5,)), hold_s=HOLD_S)
        track = observe_track(ride, TRAIL_RECEIVER, rng, rpm=TRAIL_RPM, start_s=START_S + 86400.0 * number)
        write_track(track.recording, folder / setup / "ride.gpx")
    (folder / "bike.toml").write_text(TRAIL_BIKE_TOML, encoding="utf-8")
    return folder


def write_archive(root: Path, rides: int) -> Path:
    """Write so many ride folders, each with another seed, and return the root."""
    for number in range(rides):
        write_ride(root / f"ride {number:04d}", number)
    return root
