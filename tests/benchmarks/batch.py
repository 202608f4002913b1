"""How well `gearfit batch` uses two cores, and whether its memory stays flat.

    python -m tests.benchmarks.batch --folders 16

Makes folders of two small sheets, reports them with one process and with two, and prints for each the time on the wall,
the seconds of processor that the workers took, and their memory after half of the folders and at the end. Efficiency by
the wall, time(1) / (2 time(2)), means something on a machine that does nothing else; by processor it always does.

Two cores shared with others (load 7 to 9), Python 3.11, 8 folders: 14.1 s of processor in one process, 16.6 s in two
(starting the second one included), so 85 %; by the wall 42 %, which says more of the others. An unchanged folder takes
1.4 ms. Memory 248 MB half-way and 241 MB at the end with one process, 736 and 749 MB with two. A thousand folders have
not been measured.
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
import time
from pathlib import Path

import psutil

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
        wall, processor = {}, {}
        for jobs in (1, 2):
            list(run_here(tasks[:2], jobs))
            clear(tasks)
            start, before, memory = time.perf_counter(), used_s(), []
            for _ in run_here(tasks, jobs):
                memory.append(memory_mb())
            wall[jobs], processor[jobs] = time.perf_counter() - start, used_s() - before
            print(
                f"{folders} folders, {jobs} processes: {wall[jobs]:.1f} s, processor {processor[jobs]:.1f} s, memory "
                f"{memory[folders // 2]:.0f} MB half-way, {memory[-1]:.0f} MB at the end"
            )
        print(f"efficiency on two cores by the wall: {100 * wall[1] / (2 * wall[2]):.0f} %")
        print(f"seconds of processor, one against two processes: {100 * processor[1] / processor[2]:.0f} %")
        start = time.perf_counter()
        list(run_here(tasks, 2))
        print(f"unchanged: {1000 * (time.perf_counter() - start) / folders:.1f} ms each")


def used_s() -> float:
    """Seconds of processor of this process and the workers that are alive."""
    times = [process.cpu_times() for process in processes()]
    return float(sum(found.user + found.system for found in times))


def memory_mb() -> float:
    """Memory of this process and its workers."""
    return float(sum(process.memory_info().rss for process in processes())) / 1e6


def processes() -> list[psutil.Process]:
    """This process and those that it has started."""
    own = psutil.Process()
    return [own, *own.children(recursive=True)]


def clear(tasks: list[Task]) -> None:
    """Forget what has been reported."""
    for task in tasks:
        shutil.rmtree(Path(task.folder) / "report", ignore_errors=True)


if __name__ == "__main__":
    main()
