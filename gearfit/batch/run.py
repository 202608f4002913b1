"""Many folders at once: on the cores of this machine, or on a Dask cluster that sees the same files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from gearfit.batch.rows import failed
from gearfit.batch.work import Done, Task, work

#: How often a folder is begun again when the process that worked on it was ended from outside.
_TRIES: Final = 3
_ENDED: Final = "the process that worked on it was ended from outside, perhaps for want of memory"

Result = tuple[int, Done]


def run_here(tasks: Sequence[Task], jobs: int) -> Iterator[Result]:
    """Yield the place in `tasks` and what came out, in the order in which they are done.

    Parameters
    ----------
    tasks : sequence of Task
        The folders.
    jobs : int
        Processes; -1 for one a core.
    """
    from joblib import Parallel, delayed
    from joblib.externals.loky.process_executor import TerminatedWorkerError

    left = dict(enumerate(tasks))
    for _ in range(_TRIES):
        try:
            running = Parallel(n_jobs=jobs, return_as="generator_unordered")(
                delayed(_numbered)(place, task) for place, task in list(left.items())
            )
            for place, done in running:
                del left[place]
                yield place, done
        except TerminatedWorkerError:
            continue
        return
    for place, task in left.items():
        yield place, Done([failed(task.ride, _ENDED)], unchanged=False)


def run_on_cluster(tasks: Sequence[Task], address: str) -> Iterator[Result]:
    """Yield as `run_here`; a folder whose worker is lost goes to another one.

    Parameters
    ----------
    address : str
        Of the scheduler, e.g. "tcp://10.0.0.5:8786". Its workers have gearfit installed and see the folders under the
        same paths.
    """
    from distributed import Client, as_completed

    with Client(address) as client:  # type: ignore[no-untyped-call]
        futures = client.map(work, tasks, pure=False)
        places = {future.key: place for place, future in enumerate(futures)}
        for future in as_completed(futures):  # type: ignore[no-untyped-call]
            place = places[future.key]
            error = future.exception()
            lost = [failed(tasks[place].ride, f"{_ENDED} ({error})")]
            yield place, future.result() if error is None else Done(lost, unchanged=False)
            future.release()


def _numbered(place: int, task: Task) -> Result:
    return place, work(task)
