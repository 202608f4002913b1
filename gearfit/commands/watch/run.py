"""The watch itself: waits for a change, lets the folder come to rest, reports, and waits again."""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Event
from typing import Final

from watchdog.events import FileSystemEvent, FileSystemEventHandler
from watchdog.observers import Observer

from gearfit.commands.watch.midway import stops_midway
from gearfit.commands.watch.page import remove_page, write_page
from gearfit.commands.watch.quiet import Look, counts, look, wait_for_rest
from gearfit.errors import FolderError, GearfitError

#: How long a folder has to be at rest before it is read, s: copies over a network pause for a second or two.
SETTLE_S = 3.0
#: How many times as long a file is waited for that stops midway.
_PATIENCE: Final = 10
#: Names of files in a message.
_MOST_NAMES: Final = 3
#: A look without being told, for file systems that tell nothing (those of a network), s.
_LOOK_S = 5.0


class Watch:
    """Watches one ride folder.

    Parameters
    ----------
    root : pathlib.Path
        The ride folder.
    out : pathlib.Path
        Where the report goes.
    report : callable
        Writes the report; raises `GearfitError` where the rides cannot be read.
    tell : callable
        Called with a line after each try.
    settle_s : float
        How long nothing may change before the folder is read, s.

    Raises
    ------
    FolderError
        There is no such folder.
    """

    def __init__(
        self,
        root: Path,
        out: Path,
        report: Callable[[], None],
        tell: Callable[[str], None],
        settle_s: float = SETTLE_S,
    ) -> None:
        if not root.is_dir():
            raise FolderError(str(root), "there is no such folder", "Make one with `gearfit new FOLDER`")
        self._root, self._out, self._report, self._tell, self._settle_s = root, out, report, tell, settle_s
        self._stop = Event()
        self._changed = Event()
        self._tries = self._shown = 0

    def stop(self) -> None:
        """End the watch as soon as it waits; may be called from another thread."""
        self._stop.set()
        self._changed.set()

    def run(self) -> None:
        """Watch until `stop` is called; what stands beside the report for the watch alone is removed then."""
        observer = Observer()
        observer.schedule(_Handler(self._root.resolve(), self._changed), str(self._root.resolve()), recursive=True)
        with warnings.catch_warnings():
            # Two folders made within each other at once are both registered twice, which watchdog mends and warns of.
            warnings.filterwarnings("ignore", "Callback with id", RuntimeWarning)
            with suppress(OSError):  # no more folders can be told of: the looks in between go on
                observer.start()
            try:
                self._loop()
            finally:
                if observer.is_alive():
                    observer.stop()
                    observer.join()
                remove_page(self._out)

    def _loop(self) -> None:
        reported: Look = {"": (-1, -1)}  # like no folder
        while not self._stop.is_set():
            self._changed.clear()
            if look(self._root) == reported:
                self._changed.wait(_LOOK_S)
                continue
            rest = wait_for_rest(self._root, self._settle_s, self._stop)
            cut = [each for each in rest if rest[each] != reported.get(each) and stops_midway(self._root / each)]
            said = f"{', '.join(cut[:_MOST_NAMES])}: still growing or cut"
            patience_s = _PATIENCE * self._settle_s
            if any(time.time() - rest[each][1] / 1e9 < patience_s for each in cut):
                self._show([f"{said}; the report waits for it"])
                if not self._stays(rest):
                    continue
            reported = rest
            if not self._stop.is_set():
                self._try([f"{said}; reported is what can be read of it"] if cut else [])

    def _stays(self, rest: Look) -> bool:
        """Wait whether a file that stops midway grows again; False as soon as anything changes."""
        return not any(self._stop.wait(self._settle_s) or look(self._root) != rest for _ in range(_PATIENCE))

    def _try(self, messages: list[str]) -> None:
        self._tries += 1
        try:
            self._report()
        except (GearfitError, OSError) as error:
            messages.append(str(error))
        except Exception as error:  # a fault of gearfit's own must not end the watch either
            messages.append(f"a fault of gearfit, {type(error).__name__}: {error}")
        self._show(messages)

    def _show(self, messages: list[str]) -> None:
        self._shown += 1
        try:
            write_page(self._out, self._shown, messages)
        except (OSError, ValueError) as error:  # a full disk; a page of another program that is no UTF-8
            messages.append(f"{self._out}: the page cannot be written ({error})")
        self._tell(messages[0] if messages else f"Report {self._tries} is written")


class _Handler(FileSystemEventHandler):
    """Tells of every change but those of the report and of hidden files."""

    def __init__(self, root: Path, changed: Event) -> None:
        self._root, self._changed = root, changed

    def on_any_event(self, event: FileSystemEvent) -> None:
        """Wake the watch."""
        path = Path(str(event.src_path))
        if event.event_type in ("created", "modified", "moved", "deleted") and (
            path == self._root or counts(path, self._root)
        ):
            self._changed.set()
