"""The whole `gearfit report` beside the work that no such report can do without.

Rides are invented and simulated: a ten-minute and a one-hour pair of rides at 10 Hz, and one of four hours at 25 Hz
(360,000 samples), each a text log of time, position, speed and engine speed. The reference reads nothing and finds
nothing out: it imports numpy, pandas and matplotlib and draws six plain figures (SVG, points rasterised) of as many
points as the ride has samples. Both run in turn in fresh processes, and the middle of five runs counts; seconds are
those of the clock, peak memory is that of the whole process.
"""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import astuple, dataclass
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np
import pandas as pd

from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machines import trail_bike
from tests.simulator.recorder import observe_track
from tests.simulator.sample_texts import TRAIL_BIKE_TOML
from tests.simulator.scripts import ten_minute_ride

#: What is timed: label, setups, length of a ride in s, rows a second.
RIDES = (
    ("two of ten minutes, 10 Hz", ("before", "after"), 600.0, 10.0),
    ("two of one hour, 10 Hz", ("before", "after"), 3600.0, 10.0),
    ("one of four hours, 25 Hz", ("before",), 4 * 3600.0, 25.0),
)
REPEATS = 5
PLAIN = """
import io, sys
import numpy as np, pandas as pd
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
samples = int(sys.argv[1])
rng = np.random.default_rng(1)
table = pd.DataFrame({"rpm": rng.uniform(1000, 9000, samples), "speed": rng.uniform(0, 120, samples)})
for _ in range(6):
    figure = Figure()
    FigureCanvasAgg(figure)
    figure.subplots().plot("rpm", "speed", "o", data=table, markersize=2, rasterized=True)
    figure.savefig(io.BytesIO(), format="svg")
"""


@dataclass(frozen=True)
class Spent:
    """Of one run: seconds of clock and processor, and the highest mark of memory."""

    clock_s: float
    processor_s: float
    peak_mb: float


def ride_folder(folder: Path, setups: tuple[str, ...], duration_s: float, rate_hz: float) -> int:
    """Write a ride folder; return its number of samples."""
    receiver = SpeedChannel(rate_hz=rate_hz, latency_s=0.25, white_sd_mps=0.04, correlated_sd_mps=0.08)
    total = 0
    for k, setup in enumerate(setups):
        rng = np.random.default_rng([7, k])
        ride = ten_minute_ride(rng, trail_bike(setup), duration_s=duration_s, starts=round(duration_s / 300))
        seen = observe_track(ride, receiver, rng, rpm=RpmChannel(rate_hz=rate_hz, lag_s=0.05, noise_sd_rpm=12.0))
        samples = seen.recording.samples
        log = pd.DataFrame(
            {
                "time_s": samples["time_s"],
                "lat": samples["latitude_deg"],
                "lon": samples["longitude_deg"],
                "speed_kmh": (3.6 * samples["speed_mps"]).round(2),
                "rpm": samples["engine_rpm"].round(),
            }
        )
        (folder / setup).mkdir(parents=True)
        log.to_csv(folder / setup / "ride.csv", index=False)
        total += len(log)
    (folder / "bike.toml").write_text(TRAIL_BIKE_TOML, "utf-8")
    return total


def run(command: list[str]) -> Spent:
    """Run a command in a fresh process."""
    start = perf_counter()
    process = subprocess.Popen([sys.executable, *command], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{command} ended with {process.returncode}")
    return Spent(perf_counter() - start, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def middle(runs: list[Spent]) -> Spent:
    """Return the middle of each figure."""
    return Spent(*(median(values) for values in zip(*map(astuple, runs), strict=True)))


def reports() -> None:
    """Print the table."""
    print("\n| report on | samples | s | reference, s | ratio | processor, s | reference | peak, MB | reference |")
    print("|---|---|---|---|---|---|---|---|---|")
    for label, setups, duration_s, rate_hz in RIDES:
        with TemporaryDirectory() as folder:
            ride = Path(folder) / "ride"
            samples = ride_folder(ride, setups, duration_s, rate_hz)
            report = ["-m", "gearfit", "report", str(ride), "--quiet"]
            pairs = [(run(report), run(["-c", PLAIN, str(samples)])) for _ in range(REPEATS)]
        ours, plain = (middle(list(runs)) for runs in zip(*pairs, strict=True))
        ratio = median(one.clock_s / other.clock_s for one, other in pairs)
        print(
            f"| {label} | {samples:,} | {ours.clock_s:.2f} | {plain.clock_s:.2f} | {ratio:.2f} | "
            f"{ours.processor_s:.2f} | {plain.processor_s:.2f} | {ours.peak_mb:.0f} | {plain.peak_mb:.0f} |",
            flush=True,
        )
