"""A second process that takes parts of the work from the end of a list while this one works from its beginning.

Whatever consists of parts that do not need each other takes a function to go through them with: `map`, unless the
caller has a better one. `second_process` lends one that shares the parts with a second process. Which of the two did a
part changes nothing but the time: results come in the order of the parts, and whatever goes wrong there, from a
process that is ended from outside to an error in a part, this process does that part itself.
"""

from __future__ import annotations

import gc
import importlib
import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Final, Protocol, TypeVar

T = TypeVar("T")
R = TypeVar("R")

#: Whether the second process is a copy of this one with all that it has loaded, or begins anew.
COPIED: Final = sys.platform == "linux"
#: How often a process that is still loading is looked at, s.
_LOOK_S: Final = 0.01


class Each(Protocol):
    """Goes through parts of the work, as `map` does."""

    def __call__(self, function: Callable[[T], R], parts: Iterable[T], /) -> Iterator[R]:
        """Yield what `function` makes of each part, in their order."""


@contextmanager
def second_process(*modules: str) -> Iterator[Each]:
    """Lend what goes through parts in two processes.

    Plain `map` where there is one processor only, or where a copy of this process might wait for ever for what another
    thread of it holds.

    Functions and parts are sent to the other process and results back, so `pickle` has to know them all; a part that
    writes or changes something is no good. The other process is ended with the context.

    Parameters
    ----------
    *modules : str
        What the work needs: loaded here before the process is copied, or there while this one does something else.
    """
    if COPIED:
        _load(modules)
    if _processors() < 2 or (COPIED and threading.active_count() > 1):
        yield map
        return
    context = get_context("fork") if COPIED else get_context("spawn")
    here, there = context.Pipe()
    process = context.Process(target=_serve, args=(there, here, modules), daemon=True)
    process.start()
    there.close()
    try:
        yield _Shared(here)
    finally:
        process.terminate()
        process.join()
        here.close()


def _load(modules: Iterable[str]) -> None:
    """Import modules without looking for objects that nobody needs any more: there are none."""
    gc.disable()
    for name in modules:
        importlib.import_module(name)
    gc.enable()


def _processors() -> int:
    """Return how many processors this process may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class _Shared:
    """Goes through parts in two processes."""

    def __init__(self, other: Connection[Any, Any]) -> None:
        self._other = other
        self._ready = False

    def __call__(self, function: Callable[[T], R], parts: Iterable[T], /) -> Iterator[R]:
        left = deque(parts)
        with ThreadPoolExecutor(1) as beside:
            end = beside.submit(self._from_the_end, function, left)
            try:
                yield from map(function, _taken(left.popleft))
                made = end.result()
                yield from map(function, _taken(left.popleft))
            finally:
                left.clear()
        yield from made

    def _from_the_end(self, function: Callable[[T], R], left: deque[T]) -> list[R]:
        """Have parts done in the other process until none is left; one that fails there is put back."""
        made: deque[R] = deque()
        undone: list[T] = []
        with suppress(EOFError, OSError):
            if self._is_ready(left):
                self._other.send(function)
                for part in _taken(left.pop):
                    undone = [part]
                    self._other.send(undone)
                    made.appendleft(self._other.recv())
                    undone = []
                self._other.send([])
        left.extend(undone)
        return list(made)

    def _is_ready(self, left: deque[T]) -> bool:
        """Wait until the other process has started, as long as there is a part left for it."""
        while left and not self._ready:
            self._ready = self._other.poll(_LOOK_S) and self._other.recv()
        return self._ready


def _taken(take: Callable[[], T]) -> Iterator[T]:
    """Yield parts until none is left; the other process may take the last one at any time."""
    while True:
        try:
            part = take()
        except IndexError:
            return
        yield part


def _serve(first: Connection[Any, Any], its_own: Connection[Any, Any], modules: Iterable[str]) -> None:
    """Do what the first process sends: functions, each followed by lists of one part and an empty list.

    An error ends this process without a word, as the first one does the part again and tells of it. So does the end of
    the first process, whose end of the line is closed here for that.
    """
    its_own.close()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sys.stderr = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - open to the end of this process
    _load(modules)
    with suppress(EOFError):
        first.send(True)
        while True:
            function = first.recv()
            while part := first.recv():
                first.send(function(*part))
