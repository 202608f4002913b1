"""Spreadsheets: each worksheet becomes the text of a sheet, row by row, and is read as any other."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from pathlib import Path
from typing import Final

from gearfit.errors import LogError
from gearfit.foreign import safe_text

#: First bytes of a zip archive (.xlsx, .ods), and of a compound file (.xls).
_ZIP, _COMPOUND = b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
#: What the parts of an archive may hold together, and rows and cells of a worksheet: a notebook has far less.
_LARGEST_BYTES: Final = 200_000_000
_MOST_CELLS: Final = 5_000_000


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
    import python_calamine as calamine

    try:
        _refuse_bombs(path, name)
        with calamine.CalamineWorkbook.from_path(str(path)) as book:
            found = {safe_text(each, 60): _text(book.get_sheet_by_name(each), name) for each in book.sheet_names}
    except calamine.PasswordError:
        raise LogError(name, "the spreadsheet is protected by a password", "Save it without one") from None
    except (calamine.CalamineError, OSError, ValueError, zipfile.BadZipFile) as error:
        said = safe_text(str(error).split("\n")[0], 80)
        raise LogError(
            name, f"this is no spreadsheet that can be read ({said})", "Save it again as .xlsx, .ods or CSV"
        ) from None
    return {sheet: text for sheet, text in found.items() if text.strip()}


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


def _text(sheet: object, name: str) -> str:
    height, width = getattr(sheet, "total_height", 0), getattr(sheet, "total_width", 0)
    if height * width > _MOST_CELLS:
        raise LogError(
            name, f"a worksheet has {height} rows of {width} cells; allowed are {_MOST_CELLS} cells", "Save it as CSV"
        )
    out = io.StringIO()
    writer = csv.writer(out, delimiter="\t", lineterminator="\n")
    rows = sheet.to_python(skip_empty_area=False)  # type: ignore[attr-defined]
    for row in rows:
        cells = [_cell(cell) for cell in row]
        writer.writerow(cells if any(cells) else [])
    return out.getvalue()


def _cell(value: object) -> str:
    """Write a cell as a person would read it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, dt.datetime):
        return value.isoformat(sep=" ")
    if isinstance(value, dt.timedelta):
        return str(value)
    return " ".join(str(value).split())
