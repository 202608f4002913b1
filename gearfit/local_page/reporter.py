"""Reports made in the background: a process of its own for each, so that nothing a file holds ends the pages."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Lock, Thread
from typing import Final

from gearfit.commands.watch.quiet import Look, look
from gearfit.importers.folder import REPORT_FOLDER

#: No report takes as long as this, s.
_LONGEST_S: Final = 1800


@dataclass
class State:
    """Where the report of one folder stands; a report is due when the folder has come to rest in another look."""

    seen: Look | None = None
    reported: Look | None = None
    busy: bool = False
    answer: list[str] = field(default_factory=list)
    fault: str = ""
    times: int = 0


class Reporter:
    """Makes reports, one at a time.

    Parameters
    ----------
    unit : callable or str
        Unit of speed of the reports, "kmh" or "mph"; may be set.
    """

    def __init__(self, unit: str) -> None:
        self.unit = unit
        self._states: dict[tuple[Path, str], State] = {}
        self._lock, self._due = Lock(), SimpleQueue[Path | None]()
        self._child: subprocess.Popen[str] | None = None
        self._worker = Thread(target=self._work, daemon=True)
        self._worker.start()

    def state(self, ride: Path) -> State:
        """Look at a folder; begin its report where it has changed since the last one and rests since the last look."""
        now = look(ride)
        with self._lock:
            state = self._states.setdefault((ride, self.unit), State())
            rests = now == state.seen
            state.seen = now
            if rests and not state.busy and now != state.reported:
                state.busy, state.reported = True, now
                self._due.put(ride)
            return state

    def close(self) -> None:
        """End the report that is being made, and the work."""
        self._due.put(None)
        if self._child is not None:
            self._child.kill()

    def _work(self) -> None:
        while True:
            try:
                ride = self._due.get(timeout=3600)
            except Empty:
                continue
            if ride is None:
                return
            unit = self.unit
            code, lines, fault = self.run("report", ride, "--units", unit)
            with self._lock:
                state = self._states.setdefault((ride, unit), State())
                state.busy, state.times = False, state.times + 1
                # The last line names the file, which the page shows.
                state.answer, state.fault = (lines[:-1], "") if code == 0 else ([], fault)

    def run(self, command: str, ride: Path, *options: str) -> tuple[int, list[str], str]:
        """Run one command on a folder to its end.

        Returns
        -------
        (int, list of str, str)
            Its exit code, the lines that it printed, and its message.
        """
        arguments = [sys.executable, "-m", "gearfit", command, *options, "--", str(ride)]
        environment = {"PYTHONIOENCODING": "utf-8", "NO_COLOR": "1"}
        with subprocess.Popen(  # noqa: S603 - this program, on a folder that is listed
            arguments,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            errors="replace",
            env={**os.environ, **environment},
        ) as child:
            self._child = child
            try:
                out, err = child.communicate(timeout=_LONGEST_S)
            except subprocess.TimeoutExpired:
                child.kill()
                out, err = child.communicate()
        said = [line for line in err.splitlines() if line.startswith("gearfit: ")]
        fault = said[-1].removeprefix("gearfit: ") if said else "a fault of gearfit: the report could not be made"
        return child.returncode, out.splitlines(), fault


def report_file(ride: Path, name: str) -> Path | None:
    """Return a file of the report by its exact name, if it is one."""
    folder = ride / REPORT_FOLDER
    if folder.is_symlink() or not folder.is_dir():
        return None
    found = next((entry for entry in folder.iterdir() if entry.name == name), None)
    good = found is not None and not found.name.startswith(".") and found.is_file() and not found.is_symlink()
    return found if good else None
