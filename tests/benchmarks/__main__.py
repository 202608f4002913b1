"""How fast and how lean the importers, the fit and the start are: `python -m tests.benchmarks [WHAT ...] [SIZE ...]`.

WHAT is GPX, NMEA, text, fit, start or report (all of these unless said otherwise), SIZE a number of samples (points,
lines, rows; 10,000, 100,000 and a million unless said otherwise). Each job and its reference run in processes of
their own, one after the other, and count seconds of processor, which other work on the machine disturbs less; the
table is in Markdown. Needs Linux (peak memory) and, for the reference of the fit, scikit-learn. `batch N` measures
`gearfit batch` over N ride folders.

References: GPX, expat tokenising the bytes without handlers; NMEA, pandas' C engine over all sentences with numpy
checksums; text, `pandas.read_csv` of the same file; fit, scikit-learn's GaussianMixture told that there are six gears;
start, `python -c "import numpy"`; report, see `tests/benchmarks/report.py`.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from shutil import copy, copytree
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

from tests.benchmarks.batch import measure
from tests.benchmarks.files import MAKERS
from tests.benchmarks.report import reports

SIZES = (10_000, 100_000, 1_000_000)
#: Runs of a job, of which the middle one counts; large files once.
REPEATS, LARGE, STARTS = 5, 500_000, 9
BIKE = str(Path(__file__).parents[2] / "sample_logs" / "trail-bike")
COMMANDS = {
    "--help": ["--help"],
    "--version": ["--version"],
    "predict": ["predict", f"{BIKE}/bike.toml"],
    "new (folder exists)": ["new", BIKE],
    "check": ["check", f"{BIKE}/bike.toml"],
}


def measured(job: str, path: Path, size: int) -> dict[str, float]:
    repeats = 1 if size >= LARGE else REPEATS
    command = [sys.executable, "-m", "tests.benchmarks.jobs", job, str(path), str(repeats)]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    if run.returncode:
        raise SystemExit(run.stderr)
    found: dict[str, float] = json.loads(run.stdout)
    return found


def compare(what: str, sizes: list[int]) -> None:
    for size in sizes:
        with TemporaryDirectory() as folder:
            path = Path(folder) / "ride"
            MAKERS[what](path, size)
            reference, ours = (measured(job, path, size) for job in (f"{what} reference", what))
        over = (ours["peak_mb"] - ours["result_mb"]) * 2**20 / size
        print(
            f"| {what} | {size:,} | {ours['seconds']:.3f} | {reference['seconds']:.3f} | "
            f"{ours['seconds'] / reference['seconds']:.2f} | {1e6 * ours['seconds'] / size:.2f} | "
            f"{ours['peak_mb']:.0f} | {over:.0f} |",
            flush=True,
        )


def start_s(command: list[str]) -> float:
    times = []
    for _ in range(STARTS):
        start = perf_counter()
        subprocess.run([sys.executable, *command], capture_output=True, check=False)
        times.append(perf_counter() - start)
    return median(times)


def starts() -> None:
    bare = start_s(["-c", "import numpy"])
    print(f"\n| start of gearfit | s | of `import numpy` ({bare:.3f} s) |\n|---|---|---|")
    with TemporaryDirectory() as folder:
        paper, ridden = Path(folder) / "paper", Path(folder) / "ridden"
        paper.mkdir()
        copy(Path(BIKE, "bike.toml"), paper)
        copytree(BIKE, ridden)
        plans = {"plan (before any ride)": ["plan", str(paper)], "plan (after a ride)": ["plan", str(ridden)]}
        _starts(COMMANDS | plans, bare)


def _starts(commands: dict[str, list[str]], bare: float) -> None:
    for label, arguments in commands.items():
        taken = start_s(["-m", "gearfit", *arguments])
        print(f"| {label} | {taken:.3f} | {taken / bare:.2f} |", flush=True)


def main() -> None:
    sizes = [int(word) for word in sys.argv[1:] if word.isdigit()] or list(SIZES)
    chosen = [word for word in sys.argv[1:] if not word.isdigit()] or [*MAKERS, "start", "report"]
    if chosen == ["batch"]:
        for folders in sizes:
            measure(folders)
        return
    jobs = [what for what in chosen if what in MAKERS]
    if jobs:
        print("| job | samples | s | reference, s | ratio | µs a sample | peak, MB | bytes a sample over the result |")
        print("|---|---|---|---|---|---|---|---|")
    for what in jobs:
        compare(what, sizes)
    if "start" in chosen:
        starts()
    if "report" in chosen:
        reports()


if __name__ == "__main__":
    main()
