"""Saving without losing what another window, or an editor, saved meanwhile."""

from __future__ import annotations

import hashlib
from pathlib import Path
from threading import Lock
from typing import Final

from gearfit.errors import InputError
from gearfit.whole_files import write_whole

#: Larger files were not typed.
LARGEST_BYTES: Final = 1_000_000
_ONE_AT_A_TIME: Final = Lock()


class StaleError(Exception):
    """The file is no longer the one that was shown; `theirs` is its text now."""

    def __init__(self, theirs: str) -> None:
        self.theirs = theirs
        super().__init__("the file has changed since it was shown")


def read_text(path: Path) -> str:
    """Return the text of a file; "" where there is none.

    Raises
    ------
    InputError
        It is a link, no file, no UTF-8 text, or larger than anything typed.
    """
    if path.is_symlink() or (path.exists() and not path.is_file()):
        raise InputError(path.name, "this is a link or no file; allowed is a plain file", "Replace it by a file")
    try:
        data = path.read_bytes() if path.exists() and path.stat().st_size <= LARGEST_BYTES else b""
        if path.exists() and not data and path.stat().st_size:
            raise InputError(path.name, "the file is larger than 1 MB", "Edit it with a spreadsheet program")
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(path.name, "the file is not UTF-8 text", "Save it again with encoding UTF-8") from None
    except OSError as error:
        raise InputError(path.name, f"cannot be read ({error.strerror})", "Check its permissions") from None


def revision(text: str) -> str:
    """Return what tells one version of a text from another."""
    return hashlib.sha256(text.encode()).hexdigest()[:24]


def save(path: Path, text: str, shown: str) -> str:
    """Write a file whole if it still is the version that was shown, and return the new version.

    Raises
    ------
    StaleError
        It is another one by now; nothing is written.
    InputError
        It cannot be read or written; the older file stays whole.
    """
    with _ONE_AT_A_TIME:
        theirs = read_text(path)
        if revision(theirs) != shown:
            raise StaleError(theirs)
        try:
            path.parent.mkdir(exist_ok=True)
            write_whole(path, text)
        except OSError as error:
            raise InputError(
                path.name, f"cannot be written ({error.strerror})", "Check permissions and free space"
            ) from None
    return revision(text)
