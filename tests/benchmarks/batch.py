"""How well `gearfit batch` uses two cores, and whether its memory stays flat.

    python -m tests.benchmarks.batch --folders 16

Makes folders of two small sheets, reports them with one process and with two, and prints times, the efficiency
time(1) / (2 time(2)) and the highest memory of the process that hands out the work.
"""

from __future__ import annotations

import argparse
import resource
import shutil
import tempfile
import time
from pathlib import Path

from gearfit.batch.run import run_here
from gearfit.batch.work import Task, work
from tests.faults.test_whole_files import ride_in


def main() -> None:
    """Print one line a measurement."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--folders", type=int, default=16)
    folders = parser.parse_args().folders
    with tempfile.TemporaryDirectory() as place:
        tasks = [Task(str(ride_in(Path(place) / f"{n}")), f"{n}", "kmh", None) for n in range(folders)]
        for task in tasks[:1]:
            work(task)
        seconds = {}
        for jobs in (1, 2):
            list(run_here(tasks[:2], jobs))
            clear(tasks)
            start = time.perf_counter()
            done = sum(1 for _ in run_here(tasks, jobs))
            seconds[jobs] = time.perf_counter() - start
            print(f"{done} folders, {jobs} processes: {seconds[jobs]:.1f} s, {seconds[jobs] / done:.2f} s each")
        print(f"efficiency on two cores: {100 * seconds[1] / (2 * seconds[2]):.0f} %")
        start = time.perf_counter()
        list(run_here(tasks, 2))
        print(f"unchanged: {1000 * (time.perf_counter() - start) / folders:.1f} ms each")
    print(f"highest memory of this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def clear(tasks: list[Task]) -> None:
    """Forget what has been reported."""
    for task in tasks:
        shutil.rmtree(Path(task.folder) / "report", ignore_errors=True)


if __name__ == "__main__":
    main()
