"""Which folders below a root are ride folders, and what their content is."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import Final

from gearfit.importers.folder import BIKE_FILE, DEFAULT_SETUPS, REPORT_FOLDER
from gearfit.own_files import holds_results
from gearfit.version import __version__

_SEPARATORS: Final = "_ -."
_BLOCK: Final = 1 << 20


def ride_folders(root: Path) -> list[Path]:
    """Return the ride folders below a root, or the root itself, in order of name; links are not followed.

    A ride folder holds bike.toml, a sub-folder before or after, or files whose names begin with these words. What lies
    within one belongs to it. A folder that cannot be read is among them, so that whoever reads it says so.
    """
    found: list[Path] = []
    for folder, folders, files in os.walk(root, onerror=lambda error: found.append(Path(error.filename))):
        if _is_ride_folder(folders, files):
            found.append(Path(folder))
            folders.clear()
        folders[:] = sorted(name for name in folders if not name.startswith(".") and name != REPORT_FOLDER)
    return found


def _is_ride_folder(folders: list[str], files: list[str]) -> bool:
    setups = {name.casefold() for name in folders} & set(DEFAULT_SETUPS)
    starts = tuple(setup + mark for setup in DEFAULT_SETUPS for mark in _SEPARATORS)
    return BIKE_FILE in files or bool(setups) or any(name.casefold().startswith(starts) for name in files)


def content_hash(folder: Path, *asked: str) -> str:
    """Return a hash of everything that the report of a folder depends on: files, version, and what is asked."""
    whole = hashlib.sha256("\0".join((__version__, *asked)).encode())
    for place, folders, files in os.walk(folder):
        folders[:] = sorted(
            name
            for name in folders
            if not name.startswith(".") and name != REPORT_FOLDER and not holds_results(Path(place) / name)
        )
        for name in sorted(name for name in files if not name.startswith(".")):
            path = Path(place) / name
            part = hashlib.sha256()
            if not path.is_symlink() and path.is_file():
                with path.open("rb") as file:
                    while block := file.read(_BLOCK):
                        part.update(block)
            whole.update(os.fsencode(path.relative_to(folder)) + b"\0" + part.digest())
    return whole.hexdigest()
