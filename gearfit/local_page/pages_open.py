"""Whether a page is still open somewhere: the program ends with the last one."""

from __future__ import annotations

import re
from collections.abc import Callable
from threading import Event, Thread
from time import monotonic
from typing import Final

#: Pages say every 20 s that they are there, once a minute where the browser lets a hidden page rest.
SILENT_S: Final = 200.0
#: A page that is left for the next one comes back within this.
LEAVING_S: Final = 8.0
_MOST: Final = 1000
_PAGE: Final = re.compile(r"[a-z0-9-]{8,64}")


class PagesOpen:
    """Counts pages and calls `end` once the last one has gone for `LEAVING_S`; never before there was one."""

    def __init__(self, end: Callable[[], None], clock: Callable[[], float] = monotonic) -> None:
        self._end, self._clock = end, clock
        self._until: dict[str, float] = {}
        self._stop = Event()

    def here(self, page: str) -> None:
        """Note that a page is open."""
        if _PAGE.fullmatch(page) and (page in self._until or len(self._until) < _MOST):
            self._until[page] = self._clock() + SILENT_S

    def gone(self, page: str) -> None:
        """Note that a page was closed, or left for another one."""
        if page in self._until:
            self._until[page] = min(self._until[page], self._clock() + LEAVING_S)

    @property
    def over(self) -> bool:
        """Whether there was a page and none is left."""
        return bool(self._until) and max(self._until.values()) < self._clock()

    def watch(self) -> None:
        """Begin to watch in the background."""
        Thread(target=self._watch, daemon=True).start()

    def close(self) -> None:
        """Watch no more."""
        self._stop.set()

    def _watch(self) -> None:
        while not self._stop.wait(1.0):
            if self.over:
                self._end()
                return
