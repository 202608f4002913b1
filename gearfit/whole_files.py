"""Files that are whole or not there: put together under a temporary name beside their place, then renamed.

A full disk, a process that is killed or two at work on one folder leave each file as it was, or as it should be.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

#: Name of the folder, within the target folder, in which files are put together.
_WORKSHOP: Final = ".unfinished-"

if sys.platform == "win32":

    def _lock(descriptor: int, *, wait: bool) -> bool:
        """Claim nothing: the system has no lock for a folder."""
        return wait

else:
    import fcntl

    def _lock(descriptor: int, *, wait: bool) -> bool:
        """Lock an open folder until it is closed or the process ends; False where another has it, or none can."""
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True


def write_together(folder: Path, make: Callable[[Path], Sequence[str]]) -> list[Path]:
    """Write several files, which take their places together once all of them are finished.

    Parameters
    ----------
    folder : pathlib.Path
        Where they go; made if missing.
    make : callable
        Given an empty folder, writes the files into it and returns their names in the order in which they take
        their places. A name may lead through sub-folders, with forward slashes.

    Returns
    -------
    list of pathlib.Path
        The files in their places, in that order.

    Raises
    ------
    OSError
        The disk is full, the folder cannot be written to, or a folder stands where a file should go. Nothing has
        been replaced then. What `make` raises passes through likewise.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with _workshop(folder) as workshop:
        names = make(workshop)
        with _alone_in(folder):
            _refuse_folders(folder, names)
            for name in names:
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                os.replace(workshop / name, folder / name)
    return [folder / name for name in names]


def write_whole(path: Path, content: str | bytes) -> Path:
    """Write one file, a text as UTF-8 with line feeds; its folder is made if missing."""
    data = content.encode("utf-8") if isinstance(content, str) else content

    def make(workshop: Path) -> list[str]:
        (workshop / path.name).write_bytes(data)
        return [path.name]

    return write_together(path.parent, make)[0]


@contextmanager
def _workshop(folder: Path) -> Iterator[Path]:
    """Lend an empty folder in `folder`; clear away those of processes that were killed."""
    with _alone_in(folder):
        for left in folder.glob(f"{_WORKSHOP}*"):
            _remove_if_left(left)
        lent = tempfile.TemporaryDirectory(dir=folder, prefix=_WORKSHOP)
        descriptor = _open_folder(Path(lent.name))
        if descriptor is not None:
            _lock(descriptor, wait=True)
    try:
        with lent as place:
            yield Path(place)
    finally:
        if descriptor is not None:
            os.close(descriptor)


def _remove_if_left(workshop: Path) -> None:
    """Remove a workshop whose process is gone, which its lock tells."""
    if workshop.is_symlink() or (descriptor := _open_folder(workshop)) is None:
        return
    try:
        if _lock(descriptor, wait=False):
            shutil.rmtree(workshop, ignore_errors=True)
    finally:
        os.close(descriptor)


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """Keep other processes from exchanging files in this folder meanwhile, as far as the file system can."""
    descriptor = _open_folder(folder)
    if descriptor is None:
        yield
        return
    try:
        _lock(descriptor, wait=True)
        yield
    finally:
        os.close(descriptor)


def _open_folder(folder: Path) -> int | None:
    """Open a folder for locking; None where the system opens no folders."""
    try:
        return os.open(folder, os.O_RDONLY)
    except OSError:
        return None


def _refuse_folders(folder: Path, names: Sequence[str]) -> None:
    for name in names:
        if (folder / name).is_dir() and not (folder / name).is_symlink():
            raise IsADirectoryError(21, f"a folder stands in the place of {name}")
