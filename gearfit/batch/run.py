"""Many folders at once: on the cores of this machine, or on a Dask cluster that sees the same files."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import Any, Final

from gearfit.batch.rows import failed
from gearfit.batch.work import Done, Task, work

_ENDED: Final = "the process that worked on it was ended from outside, perhaps for want of memory"

Result = tuple[int, Done]


def run_here(tasks: Sequence[Task], jobs: int) -> Iterator[Result]:
    """Yield the place in `tasks` and what came out, in the order in which they are done.

    A folder whose process dies is tried once more at the end, with nothing else running.

    Parameters
    ----------
    tasks : sequence of Task
        The folders.
    jobs : int
        Processes; -1 for one a core.
    """
    from joblib import cpu_count

    died: list[int] = []
    lanes = max(1, min(len(tasks), cpu_count() if jobs < 0 else jobs))
    with ThreadPoolExecutor(lanes) as threads:
        lane = _Lanes()
        running = {threads.submit(lane.run, task): place for place, task in enumerate(tasks)}
        try:
            for future in as_completed(running):
                done = future.result()
                if done is None:
                    died.append(running[future])
                else:
                    yield running[future], done
        finally:
            threads.shutdown(cancel_futures=True)
            lane.close()
    for place in died:
        lane = _Lanes()
        done = lane.run(tasks[place])
        lane.close()
        yield place, done or Done([failed(tasks[place].ride, _ENDED)], unchanged=False)


class _Lanes:
    """A process for each thread, begun anew where it has died, so that a death harms the folder it worked on alone."""

    def __init__(self) -> None:
        self._own = threading.local()
        self._all: list[Any] = []

    def run(self, task: Task) -> Done | None:
        """Do one folder; None where its process died."""
        from joblib.externals.loky.process_executor import ProcessPoolExecutor, TerminatedWorkerError

        if getattr(self._own, "process", None) is None:
            self._own.process = ProcessPoolExecutor(max_workers=1)
            self._all.append(self._own.process)
        try:
            done: Done = self._own.process.submit(work, task).result()
        except TerminatedWorkerError:
            self._own.process = None
            return None
        return done

    def close(self) -> None:
        """End every process."""
        for process in self._all:
            process.shutdown(kill_workers=True)


def run_on_cluster(tasks: Sequence[Task], address: str) -> Iterator[Result]:
    """Yield as `run_here`; a folder whose workers are lost is tried once more at the end, with nothing else running.

    Parameters
    ----------
    address : str
        Of the scheduler, e.g. "tcp://10.0.0.5:8786". Its workers have gearfit installed and see the folders under the
        same paths.
    """
    from distributed import Client
    from distributed import as_completed as in_order_of_end

    with Client(address) as client:  # type: ignore[no-untyped-call]
        futures = client.map(work, tasks, pure=False)
        places = {future.key: place for place, future in enumerate(futures)}
        lost: list[int] = []
        for future in in_order_of_end(futures):  # type: ignore[no-untyped-call]
            if future.exception() is None:
                yield places[future.key], future.result()
            else:
                lost.append(places[future.key])
            future.release()
        for place in lost:
            future = client.submit(work, tasks[place], pure=False)
            error = future.exception()
            ended = Done([failed(tasks[place].ride, f"{_ENDED} ({error})")], unchanged=False)
            yield place, future.result() if error is None else ended
