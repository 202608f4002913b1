"""The program of a process of its own that reads a spreadsheet: `python workbook_texts.py FILE`, answer as JSON.

One cell in the last corner of a worksheet makes the library lay out all 17 thousand million, which ends the process
that reads it. So it is not the caller's, and its memory is bounded where the system can. It imports nothing of gearfit,
to start at once.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import sys
from collections.abc import Iterable
from typing import Final

#: Cells of a worksheet: a notebook has far less. Memory of the process and its time on the processor.
MOST_CELLS: Final = 5_000_000
_MOST_BYTES, _MOST_SECONDS = 2_000_000_000, 60


def main(path: str) -> dict[str, object]:
    """Read a spreadsheet.

    Returns
    -------
    dict
        "sheets": text of each worksheet by its name, tab between cells; or "password", "large" (rows and cells of the
        first worksheet that is too large) or "broken" (what the library says).
    """
    import python_calamine as calamine

    texts: dict[str, str] = {}
    try:
        with calamine.CalamineWorkbook.from_path(path) as book:
            for name in book.sheet_names:
                sheet = book.get_sheet_by_name(name)
                if sheet.total_height * sheet.total_width > MOST_CELLS:
                    return {"large": [sheet.total_height, sheet.total_width]}
                texts[name] = _text(sheet.to_python(skip_empty_area=False))
    except calamine.PasswordError:
        return {"password": True}
    except (calamine.CalamineError, OSError, ValueError) as error:
        return {"broken": str(error).split("\n")[0]}
    return {"sheets": texts}


def _bounded() -> None:
    """Bound memory and time of this process, where the system can."""
    try:
        import resource
    except ImportError:  # Windows
        return
    for what, most in ((resource.RLIMIT_AS, _MOST_BYTES), (resource.RLIMIT_CPU, _MOST_SECONDS)):
        _, hard = resource.getrlimit(what)
        bound = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (bound, hard))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _text(rows: Iterable[Iterable[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, delimiter="\t", lineterminator="\n")
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


if __name__ == "__main__":
    _bounded()
    json.dump(main(sys.argv[1]), sys.stdout)
