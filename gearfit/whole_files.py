"""Files that are whole or not there: put together under a temporary name beside their place, then renamed.

A full disk, a process that is killed or two at work on one folder leave each file as it was, or as it should be.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from gearfit.own_files import LIST, digest, is_own, list_of, list_text, refuse_foreign

#: Name of the folder, within the target folder, in which files are put together.
_WORKSHOP: Final = ".unfinished-"
#: Within it: new files, older ones on their way out, and the names of the new ones while they are exchanged.
_NEW, _OLD, _JOURNAL = "new", "old", "exchange.json"

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


def write_together(
    folder: Path, make: Callable[[Path], Sequence[str]], *, part: str = "", without: Sequence[str] = ()
) -> list[Path]:
    """Write several files, which take their places together once all of them are finished.

    The older files go first and the new ones come in the order of their names, so that files of two runs never stand
    beside each other. Where a move fails, all are moved back; where the process is killed, the next one does that.

    Parameters
    ----------
    folder : pathlib.Path
        Where they go; made if missing.
    make : callable
        Given an empty folder, writes the files into it and returns their names in the order in which they take
        their places. A name may lead through sub-folders, with forward slashes.
    part : str
        What they are the results of, such as "report": the folder keeps a list of them (`gearfit.own_files`), only
        files of gearfit are replaced, and those of the same part that are not made again go. Without it they are
        files of the rider's own.
    without : sequence of str
        Patterns of further files that go, where gearfit wrote them.

    Returns
    -------
    list of pathlib.Path
        The files in their places, in that order.

    Raises
    ------
    OSError
        The disk is full, the folder cannot be written to, or a folder stands where a file should go. Nothing has
        been replaced then. What `make` raises passes through likewise.
    InputError
        A file that gearfit did not write stands where one should go. Nothing has been replaced then either.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with _workshop(folder) as workshop:
        names = list(make(workshop / _NEW))
        with _alone_in(folder):
            _refuse_folders(folder, names)
            moved, gone = names, []
            if part:
                refuse_foreign(folder, names, part)
                gone = _outdated(folder, names, part, without)
                _write_list(folder, workshop / _NEW, names, gone, part)
                moved = [LIST, *names]
            _exchange(folder, workshop, moved, gone)
    return [folder / name for name in names]


def _outdated(folder: Path, names: Sequence[str], part: str, without: Sequence[str]) -> list[str]:
    """Return files of gearfit that are to go: earlier ones of the same part, and those that fit a pattern."""
    own = list_of(folder)
    asked = {path.relative_to(folder).as_posix() for pattern in without for path in folder.glob(pattern)}
    earlier = {name for name, (owner, _) in own.items() if owner == part}
    inside = {name for name in (asked | earlier) - set(names) if (folder / name).resolve() == folder.resolve() / name}
    return sorted(name for name in inside if is_own(folder, name, own))


def _write_list(folder: Path, new: Path, names: Sequence[str], gone: Sequence[str], part: str) -> None:
    own = {name: entry for name, entry in list_of(folder).items() if name not in gone}
    own |= {name: [part, digest(new / name)] for name in names}
    (new / LIST).write_text(list_text(own), encoding="utf-8", newline="\n")


def _exchange(folder: Path, workshop: Path, names: Sequence[str], gone: Sequence[str]) -> None:
    """Move older files out, the last of them first, and new ones in; all back where one cannot be moved."""
    journal = workshop / _JOURNAL
    journal.write_text(json.dumps(list(names)), encoding="utf-8")
    try:
        for name in (*reversed(names), *gone):
            if os.path.lexists(folder / name):
                _move(folder / name, workshop / _OLD / name)
        for name in names:
            _move(workshop / _NEW / name, folder / name)
    except BaseException:
        _undo(folder, workshop)
        raise
    journal.unlink()


def _undo(folder: Path, workshop: Path) -> None:
    """Move new files back and then the older ones, as far as a journal says that they were being exchanged.

    May be ended at any place and begun again: where a file lies tells what is still to do.
    """
    try:
        names = json.loads((workshop / _JOURNAL).read_text("utf-8"))
    except (FileNotFoundError, ValueError):  # nothing had been moved yet
        (workshop / _JOURNAL).unlink(missing_ok=True)
        return
    for name in reversed(names):
        if not (workshop / _NEW / name).exists() and os.path.lexists(folder / name):
            _move(folder / name, workshop / _NEW / name)
    old = workshop / _OLD
    for path in sorted(path for path in old.rglob("*") if path.is_symlink() or not path.is_dir()):
        _move(path, folder / path.relative_to(old))
    (workshop / _JOURNAL).unlink()


def _move(path: Path, place: Path) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    os.replace(path, place)


def write_own(path: Path, content: str, part: str) -> Path:
    """Write one file of results, see `write_together`."""
    return _write_one(path, content, part)


def write_whole(path: Path, content: str | bytes) -> Path:
    """Write one file of the rider's own, a text as UTF-8 with line feeds; its folder is made if missing."""
    return _write_one(path, content, "")


def _write_one(path: Path, content: str | bytes, part: str) -> Path:
    data = content.encode("utf-8") if isinstance(content, str) else content

    def make(workshop: Path) -> list[str]:
        (workshop / path.name).write_bytes(data)
        return [path.name]

    return write_together(path.parent, make, part=part)[0]


@contextmanager
def _workshop(folder: Path) -> Iterator[Path]:
    """Lend an empty folder in `folder`; first clear up after processes that were killed."""
    with _alone_in(folder):
        for left in folder.glob(f"{_WORKSHOP}*"):
            _clear_if_left(folder, left)
        lent = Path(tempfile.mkdtemp(dir=folder, prefix=_WORKSHOP))
        descriptor = _open_folder(lent)
        if descriptor is not None:
            _lock(descriptor, wait=True)
    try:
        (lent / _NEW).mkdir()
        yield lent
    finally:
        if not (lent / _JOURNAL).exists():  # else moving back has failed: the older files lie here for the next run
            shutil.rmtree(lent, ignore_errors=True)
        if descriptor is not None:
            os.close(descriptor)


def _clear_if_left(folder: Path, workshop: Path) -> None:
    """Undo what a process that is gone, which its lock tells, left half done, and remove its workshop."""
    if workshop.is_symlink() or (descriptor := _open_folder(workshop)) is None:
        return
    try:
        if _lock(descriptor, wait=False):
            _undo(folder, workshop)
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
