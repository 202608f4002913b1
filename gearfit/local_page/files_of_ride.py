"""Logs of a setup: taken in whole, under clean names, never over another file; removed ones are kept."""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Final

from gearfit.errors import GearfitError, InputError, NoRowsError
from gearfit.foreign import safe_text
from gearfit.importers.common.content import SIZE_LIMIT_MB
from gearfit.importers.folder import BIKE_FILE, REMOVED_FOLDER

#: Files that one setup takes.
MOST_FILES: Final = 200
LARGEST_BYTES: Final = SIZE_LIMIT_MB * 1_000_000
_BLOCK: Final = 1 << 20
_LONGEST_NAME: Final = 100
_NOT_IN_NAMES: Final = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*\u200e\u200f\u202a-\u202e\u2066-\u2069]+')
_RESERVED: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


@dataclass(frozen=True)
class RideFile:
    """One file of a setup: its name, its size, what it is, what is in it, or why it cannot be read."""

    name: str
    shown: str
    size_bytes: int
    kind: str
    said: tuple[str, ...]
    fault: str


def clean_name(name: str) -> str:
    """Return a name that is one everywhere and leads nowhere.

    Raises
    ------
    InputError
        Nothing of it can be a name.
    """
    last = re.split(r"[/\\]", name)[-1]
    cleaned = _NOT_IN_NAMES.sub("_", last).strip(" .")
    if len(cleaned) > _LONGEST_NAME:
        stem, dot, ending = cleaned.rpartition(".")
        cleaned = f"{(stem or ending)[: _LONGEST_NAME - 10]}{dot}{ending[:8]}" if dot else cleaned[:_LONGEST_NAME]
    if not cleaned or _RESERVED.fullmatch(cleaned) or cleaned.casefold() == BIKE_FILE:
        raise InputError(f"“{safe_text(name)}”", "this cannot be the name of a log", "Give the file another name")
    return cleaned


def folder_of(ride: Path, setup: str) -> Path:
    """Return the folder of a setup, made where there is none.

    Raises
    ------
    InputError
        A link or a file stands there.
    """
    folder = ride / setup
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise InputError(setup, "a link or a file stands where the folder should be", "Move it away")
    folder.mkdir(exist_ok=True)
    return folder


def take_in(ride: Path, setup: str, name: str, stream: IO[bytes], size: int | None) -> str:
    """Save what is sent as a file of a setup, whole or not at all, and return its name.

    Raises
    ------
    InputError
        It is too large, cut short, or one too many; its name is none; the disk is full. Nothing is left behind then.
    """
    folder = folder_of(ride, setup)
    cleaned = clean_name(name)
    if size is None or size > LARGEST_BYTES:
        raise InputError(
            cleaned, f"allowed are files up to {SIZE_LIMIT_MB} MB whose size is said", "Split it, one ride a file"
        )
    if sum(1 for _ in folder.iterdir()) >= MOST_FILES:
        raise InputError(setup, f"it has {MOST_FILES} files already", "Remove some first")
    unfinished = folder / f".upload-{secrets.token_hex(8)}"
    try:
        with unfinished.open("xb") as file:
            taken = 0
            while block := stream.read(min(_BLOCK, size - taken)):
                file.write(block)
                taken += len(block)
            file.flush()
            os.fsync(file.fileno())
        if taken != size:
            raise InputError(cleaned, f"only {taken} of {size} bytes came", "Drop the file again")
        return _to_free_name(unfinished, folder, cleaned)
    except OSError as error:
        raise InputError(cleaned, f"cannot be saved ({error.strerror})", "Check the free space") from None
    finally:
        unfinished.unlink(missing_ok=True)


def _to_free_name(file: Path, folder: Path, name: str) -> str:
    """Move a file to a name that no file has; a link to it takes the name, as none replaces another."""
    for free in _names(name):
        try:
            os.link(file, folder / free)
        except FileExistsError:
            continue
        except OSError:  # no links on this file system
            if (folder / free).exists():
                continue
            file.rename(folder / free)
        return free
    raise AssertionError("names do not end")


def _names(name: str) -> Iterator[str]:
    stem, dot, ending = name.rpartition(".")
    yield name
    number = 2
    while True:
        yield f"{stem} ({number}){dot}{ending}" if stem else f"{name} ({number})"
        number += 1


def _existing(ride: Path, setup: str, name: str) -> Path:
    """Return a file of a setup by its exact name, if it is one."""
    folder = folder_of(ride, setup)
    found = next((entry for entry in folder.iterdir() if entry.name == name), None)
    if found is None or found.is_symlink() or not found.is_file() or found.name.startswith("."):
        raise InputError(safe_text(name), "there is no such file", "Load the page again")
    return found


def move(ride: Path, setup: str, name: str, other: str) -> str:
    """Move a file to the folder of another setup, and return its name there."""
    file = _existing(ride, setup, name)
    return _moved(file, folder_of(ride, other))


def remove(ride: Path, setup: str, name: str) -> str:
    """Move a file into the folder of removed ones, which no report reads, and return its name there."""
    file = _existing(ride, setup, name)
    return _moved(file, folder_of(ride, REMOVED_FOLDER))


def _moved(file: Path, folder: Path) -> str:
    try:
        name = _to_free_name(file, folder, file.name)
        file.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(safe_text(file.name), f"cannot be moved ({error.strerror})", "Check permissions") from None
    return name


def listed(ride: Path, setup: str) -> list[RideFile]:
    """Return the files of a setup, each with what `gearfit check` says of it."""
    folder = ride / setup
    if folder.is_symlink() or not folder.is_dir():
        return []
    files = sorted(entry for entry in folder.iterdir() if not entry.name.startswith(".") and entry.suffix != ".md")
    return [_looked_at(path) for path in files if path.is_file() and not path.is_symlink()]


def _looked_at(path: Path) -> RideFile:
    from gearfit.importers import describe, options_near, read_log, sheets_of

    kind, fault = "", ""
    said: list[str] = []
    try:
        options = options_near(path)
        for sheet in sheets_of(path):
            first, *lines = describe(read_log(path, options=options, worksheet=sheet))
            kind, said = first.rpartition(": ")[2], [*said, *([sheet] if sheet else []), *lines]
    except NoRowsError:
        kind = "nothing is written in it yet"
    except GearfitError as error:
        fault = str(error)
    what = tuple(line.strip() for line in said)
    return RideFile(path.name, safe_text(path.name), path.stat().st_size, kind, what, fault)
