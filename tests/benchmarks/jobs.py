"""One timed job in a process of its own: `python -m tests.benchmarks.jobs JOB FILE REPEATS`; prints JSON.

Peak memory is the process's own highest mark over what it held when the job began (Linux: /proc).
"""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from pathlib import Path
from statistics import median
from time import process_time
from typing import Any
from xml.parsers import expat

import numpy as np
import pandas as pd

from gearfit.fitting.setup_fit import fit_setup, gather_setup
from gearfit.importers import read_folder, read_log
from gearfit.records.recording import RideSetup

#: What a job begins with, and the job.
Job = tuple[Callable[[Path], Any], Callable[[Any], Any]]


def tokenise(path: Path) -> None:
    """Bare tokenising: expat without handlers."""
    expat.ParserCreate().Parse(path.read_bytes(), True)


def columnar_nmea(path: Path) -> pd.DataFrame:
    """Sentences by pandas' C engine, checksums by numpy, times and speeds as numbers; nothing else is checked."""
    data = np.frombuffer(path.read_bytes(), dtype=np.uint8)
    running = np.bitwise_xor.accumulate(data)
    starts, stars = np.flatnonzero(data == ord("$")), np.flatnonzero(data == ord("*"))
    digit = np.zeros(256, dtype=np.uint8)
    digit[np.frombuffer(b"0123456789ABCDEF", dtype=np.uint8)] = np.arange(16)
    good = running[stars - 1] ^ running[starts] == 16 * digit[data[stars + 1]] + digit[data[stars + 2]]
    table = pd.read_csv(io.BytesIO(data.tobytes()), header=None, names=range(15), dtype="str", engine="c")
    rmc = table[(table[0].str.endswith("RMC") & good).to_numpy()]
    return pd.DataFrame({name: pd.to_numeric(rmc[column]) for name, column in (("time", 1), ("knots", 7), ("date", 9))})


def setup(path: Path) -> RideSetup:
    folder = path.parent / f"{path.name} folder"
    (folder / "before").mkdir(parents=True, exist_ok=True)
    (folder / "before" / "ride.csv").write_bytes(path.read_bytes())
    return read_folder(folder).setups[0]


def ratios(path: Path) -> Any:
    samples = read_log(path).samples
    return np.log(samples["engine_rpm"].to_numpy() / samples["speed_mps"].clip(lower=0.1).to_numpy())[:, None]


def mixture(values: Any) -> Any:
    from sklearn.mixture import GaussianMixture

    return GaussianMixture(6, random_state=0).fit(values)


def same(path: Path) -> Path:
    return path


JOBS: dict[str, Job] = {
    "GPX": (same, read_log),
    "NMEA": (same, read_log),
    "text": (same, read_log),
    "fit": (setup, lambda ride: fit_setup(gather_setup(ride), None)),
    "GPX reference": (same, tokenise),
    "NMEA reference": (same, columnar_nmea),
    "text reference": (same, pd.read_csv),
    "fit reference": (ratios, mixture),
}


def memory_mb(mark: str) -> float:
    line = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith(mark))
    return int(line.split()[1]) / 1024


def main() -> None:
    job, path, repeats = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
    prepare, run = JOBS[job]
    start_with = prepare(path)
    before_mb = memory_mb("VmRSS")
    Path("/proc/self/clear_refs").write_text("5")
    times = []
    peak_mb = result_mb = 0.0
    for _ in range(repeats):
        start = process_time()
        result = run(start_with)
        times.append(process_time() - start)
        if len(times) == 1:
            peak_mb = memory_mb("VmHWM") - before_mb
            samples = getattr(result, "samples", None)
            result_mb = 0.0 if samples is None else samples.memory_usage(deep=True).sum() / 2**20
    print(json.dumps({"seconds": median(times), "peak_mb": peak_mb, "result_mb": result_mb}))


if __name__ == "__main__":
    main()
