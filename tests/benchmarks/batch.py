"""How well `gearfit batch` uses two cores, and whether its memory stays flat: `python -m tests.benchmarks batch N`.

Makes N folders of short invented rides, a minute before and a minute after a change, and runs the command over them
with two processes; what a folder takes alone comes from a few more in one process. Needs Linux and about 2.5 MB a
folder.

Efficiency is what a folder takes alone, in seconds of processor and times N / 2, over the time on the wall. On a
machine that does other work as well the wall says more of that. What the command itself loses is told by "ready", the
share of two cores' time in which the workers ran or waited for a processor and not for something to do; and by "by
processor", processor alone over processor of two, as far as other work was the same in both measurements. "Of two
commands" is what the cores can give at all: the time on the wall that two commands with one process each take side by
side, over half the folders each, over that of the one command.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import psutil

from tests.benchmarks.rides import write_archive

WORKERS: Final = 2
#: Folders that are done in one process, after one that loads the libraries.
ALONE: Final = 12
#: How often the processes are looked at, s: a thread that has ended leaves no trace, so what it did since is missed.
LOOK_S: Final = 0.05


@dataclass
class Seen:
    """What the processes of one run did.

    Attributes
    ----------
    wall_s, processor_s : float
        From start to end; of the command and all its workers.
    ready_s : mapping of (process, thread) to float
        Time for which a worker's thread ran or could have run.
    memory_mb : list of float
        Of all processes together, at each look.
    """

    wall_s: float = 0.0
    processor_s: float = 0.0
    ready_s: dict[tuple[int, int], float] = field(default_factory=dict)
    memory_mb: list[float] = field(default_factory=list)


def run(root: Path, jobs: int) -> Seen:
    """Run the command over an archive and watch it."""
    seen, start = Seen(), time.perf_counter()
    command = [sys.executable, "-m", "gearfit", "batch", str(root), "--jobs", str(jobs), "--quiet"]
    process = subprocess.Popen(command)
    while os.waitid(os.P_PID, process.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is None:
        look(process.pid, seen)
        time.sleep(LOOK_S)
    _, code, used = os.wait4(process.pid, 0)
    if code:
        raise SystemExit(f"{' '.join(command)}: exit status {os.waitstatus_to_exitcode(code)}")
    seen.wall_s = time.perf_counter() - start
    seen.processor_s = used.ru_utime + used.ru_stime
    return seen


def look(command: int, seen: Seen) -> None:
    """Read the books of the system over a command and its workers."""
    total = 0.0
    for process in processes(command):
        try:
            total += process.memory_info().rss / 1e6
            if process.pid != command:
                for thread in Path(f"/proc/{process.pid}/task").iterdir():
                    running, waiting, _ = map(int, (thread / "schedstat").read_text().split())
                    seen.ready_s[process.pid, int(thread.name)] = (running + waiting) / 1e9
        except (psutil.Error, OSError):
            continue  # has ended since
    seen.memory_mb.append(total)


def processes(command: int) -> Iterator[psutil.Process]:
    """Yield the command and everything that it has started."""
    try:
        own = psutil.Process(command)
        yield own
        yield from own.children(recursive=True)
    except psutil.Error:
        return


def measure(folders: int) -> None:
    """Print what a batch over so many folders took."""
    with TemporaryDirectory() as place:
        root = Path(place)
        first = run(write_archive(root / "first", 1), 1)
        alone = run(write_archive(root / "alone", ALONE + 1), 1)
        each_s = (alone.processor_s - first.processor_s) / ALONE
        both = run(write_archive(root / "all", folders), WORKERS)
        again = run(root / "all", WORKERS)
        halves = [write_archive(root / f"half {i}", folders // WORKERS) for i in range(WORKERS)]
        with ThreadPoolExecutor(WORKERS) as side_by_side:
            apart = list(side_by_side.map(run, halves, [1] * WORKERS))
    ready = sum(both.ready_s.values()) / (WORKERS * both.wall_s)
    dearer = each_s * folders / both.processor_s
    titles = "folders | wall, s | processor a folder, s | alone, s | efficiency by the wall | of two commands"
    print(f"\n| {titles} | ready | by processor |")
    print("|---|---|---|---|---|---|---|---|")
    print(
        f"| {folders:,} | {both.wall_s:.0f} | {both.processor_s / folders:.2f} | {each_s:.2f} | "
        f"{each_s * folders / WORKERS / both.wall_s:.0%} | {max(one.wall_s for one in apart) / both.wall_s:.0%} | "
        f"{ready:.1%} | {dearer:.1%} |"
    )
    marks = [both.memory_mb[int(share * (len(both.memory_mb) - 1))] for share in (0.25, 0.5, 0.75, 0.95)]
    print(f"\nmemory of all processes after 25, 50, 75 and 95 % of the time: {', '.join(f'{m:.0f}' for m in marks)} MB")
    print(f"once more, nothing changed: {again.wall_s:.1f} s, {again.processor_s:.1f} s of processor", flush=True)
