"""When a folder has come to rest: no file of it grows, comes or goes."""

from __future__ import annotations

import os
from pathlib import Path
from threading import Event
from typing import Final, TypeAlias

#: What a file looks like from outside: its size and when it was last written to, ns.
Look: TypeAlias = dict[str, tuple[int, int]]

_REPORT: Final = "report"


def look(root: Path) -> Look:
    """Look at every file that a report could read: neither hidden ones nor those of the report itself."""
    seen: Look = {}
    for folder, folders, files in os.walk(root):
        folders[:] = [name for name in folders if counts(Path(folder) / name, root)]
        for name in files:
            path = Path(folder) / name
            if counts(path, root):
                try:
                    state = path.stat()
                except OSError:  # gone since the folder was read, or a circle of links
                    continue
                seen[path.relative_to(root).as_posix()] = (state.st_size, state.st_mtime_ns)
    return seen


def counts(path: Path, root: Path) -> bool:
    """Tell whether a report could depend on a path below `root`."""
    parts = path.relative_to(root).parts
    return bool(parts) and parts[0] != _REPORT and not any(part.startswith(".") for part in parts)


def wait_for_rest(root: Path, settle_s: float, stop: Event) -> Look:
    """Wait until nothing has changed for `settle_s`, so that a copy under way is complete; return that look."""
    seen = look(root)
    while not stop.wait(settle_s):
        again = look(root)
        if again == seen:
            break
        seen = again
    return seen
