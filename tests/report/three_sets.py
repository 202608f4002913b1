"""A ride folder with three sprocket sets: an invented machine in simulated rides, some weeks apart."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from gearfit.machine.bike import FinalDrive, Setup
from tests.simulator.files import write_track
from tests.simulator.machine import Machine
from tests.simulator.machines import trail_bike
from tests.simulator.recorder import START_S, observe_track
from tests.simulator.samples import TRAIL_RECEIVER, TRAIL_RPM
from tests.simulator.scripts import full_throttle_ride, ten_minute_ride

#: Name -> teeth of the rear sprocket; 14 at the front throughout. Road speed goes with 1/rear.
REAR = {"sprocket-48": 48, "sprocket-52": 52, "sprocket-45": 45}
WEEK_S = 7 * 86400.0

BIKE = """# An invented bike: no such machine exists, and nobody rode these rides.
name = "Fellside 300, three sprocket sets"
[engine]
cylinders = 1
strokes = 4
limit_rpm = 9500
[gearbox]
primary = "72/24"
gears = ["32/13", "30/17", "28/20", "26/22", "24/24", "22/26"]
[final_drive]
front = 14
[tyre]
size = "120/80-18"
[mass]
total_kg = 235
"""


def machine(setup: str) -> Machine:
    """The machine with one of the three sets fitted."""
    plain = trail_bike()
    setups = tuple(Setup(name, FinalDrive(front=14, rear=rear), plain.bike.tyre) for name, rear in REAR.items())
    return replace(plain, bike=replace(plain.bike, setups=setups), setup=setup)


def write_three_sets(folder: Path) -> Path:
    """Write the folder, the same bytes each time, and return it."""
    for k, setup in enumerate(REAR):
        rng = np.random.default_rng([700, k])
        rides = {
            "morning.gpx": ten_minute_ride(rng, machine(setup), duration_s=400.0),
            "starts.gpx": full_throttle_ride(rng, machine(setup), starts=4, duration_s=240.0),
        }
        for hour, (file, ride) in enumerate(rides.items()):
            start_s = START_S + 3 * k * WEEK_S + 3600.0 * hour
            track = observe_track(ride, TRAIL_RECEIVER, rng, rpm=TRAIL_RPM, start_s=start_s)
            write_track(track.recording, folder / setup / file)
    setups = "".join(f"[setups.{name}]\nrear = {rear}\n" for name, rear in REAR.items())
    (folder / "bike.toml").write_text(BIKE + setups, encoding="utf-8")
    return folder
