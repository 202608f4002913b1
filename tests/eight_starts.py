"""A ride folder with eight standing starts at full throttle on an invented machine: enough for times on paper."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.simulator.files import write_track
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machines import trail_bike
from tests.simulator.recorder import observe_track
from tests.simulator.sample_texts import TRAIL_BIKE_TOML
from tests.simulator.scripts import full_throttle_ride


def write_eight_starts(folder: Path) -> Path:
    """Write the bike file and the ride of setup "before"; return the folder."""
    rng = np.random.default_rng(5)
    ride = full_throttle_ride(rng, trail_bike(), starts=8, duration_s=440.0)
    (folder / "before").mkdir(parents=True)
    (folder / "bike.toml").write_text(TRAIL_BIKE_TOML, encoding="utf-8")
    write_track(observe_track(ride, SpeedChannel(), rng, rpm=RpmChannel()).recording, folder / "before" / "ride.gpx")
    return folder
