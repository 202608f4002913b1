"""Spreadsheets: each worksheet becomes the text of a sheet, row by row, and is read as any other."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from gearfit.errors import LogError
from gearfit.foreign import safe_text
from gearfit.importers.sheet import workbook_texts

#: First bytes of a zip archive (.xlsx, .ods), and of a compound file (.xls).
_ZIP, _COMPOUND = b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
#: What the parts of an archive may hold together: a notebook has far less.
_LARGEST_BYTES: Final = 200_000_000
#: Longest that the reading of a spreadsheet may take, s.
_LONGEST_S: Final = 120


def is_workbook(head: bytes) -> bool:
    """Whether a file begins as a spreadsheet does."""
    return head.startswith((_ZIP, _COMPOUND))


def worksheets(path: Path, name: str) -> dict[str, str]:
    """Return the text of each worksheet that holds anything, by its name, in their order; tab between cells.

    Raises
    ------
    LogError
        The file is no spreadsheet that can be read, is protected by a password, or is far larger than any notebook.
    """
    try:
        _refuse_bombs(path, name)
        status = path.stat()
        read = _read(os.fspath(path.absolute()), status.st_mtime_ns, status.st_size)
    except (OSError, ValueError, zipfile.BadZipFile) as error:
        read = {"broken": str(error).split("\n")[0]}
    if "password" in read:
        raise LogError(name, "the spreadsheet is protected by a password", "Save it without one")
    if "large" in read:
        height, width = read["large"]
        raise LogError(
            name,
            f"a worksheet has {height} rows of {width} cells; allowed are {workbook_texts.MOST_CELLS} cells",
            "Save it as CSV",
        )
    if "broken" in read:
        said = safe_text(read["broken"], 80)
        raise LogError(name, f"this is no spreadsheet that can be read ({said})", "Save it again as .xlsx, .ods or CSV")
    return {safe_text(sheet, 60): text for sheet, text in read["sheets"].items() if text.strip()}


@lru_cache(maxsize=2)
def _read(path: str, _changed_ns: int, _size: int) -> dict[str, Any]:
    """Read a file in a process of its own; once, as it is asked for again for each of its worksheets."""
    command = [sys.executable, "-P", os.fspath(Path(workbook_texts.__file__)), path]
    pipe = subprocess.PIPE
    try:
        done = subprocess.run(  # noqa: S603 - this program's own file
            command, stdin=subprocess.DEVNULL, stdout=pipe, stderr=subprocess.DEVNULL, timeout=_LONGEST_S, check=True
        )
    except (subprocess.CalledProcessError, subprocess.TimeoutExpired):
        return {"broken": "reading it fails, or takes far more memory or time than any notebook"}
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def _refuse_bombs(path: Path, name: str) -> None:
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            whole = sum(part.file_size for part in archive.infolist())
        if whole > _LARGEST_BYTES:
            raise LogError(
                name,
                f"the spreadsheet holds {whole / 1e6:.0f} MB; allowed are {_LARGEST_BYTES / 1e6:.0f} MB",
                "Save a log as CSV",
            )
