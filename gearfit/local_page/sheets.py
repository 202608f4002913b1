"""Sheets of readings as tables to type into: the CSV files that the command line reads, cell by cell as they stand."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from gearfit.errors import InputError
from gearfit.local_page.stale import read_text, revision, save

#: Most rows and columns of a table, and characters of a cell.
MOST_ROWS: Final = 2000
MOST_COLUMNS: Final = 12
LONGEST_CELL: Final = 200


@dataclass(frozen=True)
class Kind:
    """One sheet: its file, what it is for, and its headers by unit of speed."""

    file: str
    title: str
    heads: dict[str, tuple[str, ...]]


KINDS: Final = (
    Kind(
        "holds.csv",
        "Readings: gear, engine speed held, speed",
        {
            "kmh": ("gear", "rpm", "speed_kmh"),
            "mph": ("gear", "rpm", "speed_mph"),
            "dash_kmh": ("gear", "rpm", "indicated_kmh"),
            "dash_mph": ("gear", "rpm", "indicated_mph"),
        },
    ),
    Kind(
        "timed.csv",
        "Timed runs: from, to, seconds",
        {"kmh": ("from_kmh", "to_kmh", "time_s"), "mph": ("from_mph", "to_mph", "time_s")},
    ),
    Kind(
        "dash.csv",
        "Dash against satellite",
        {"kmh": ("indicated_kmh", "gps_kmh"), "mph": ("indicated_mph", "gps_mph")},
    ),
    Kind("planned_holds.csv", "Readings as planned", {}),
    Kind("planned_runs.csv", "Timed runs as planned", {}),
)
#: What a header is called on the page.
HEADS: Final = {
    "gear": "Gear",
    "rpm": "Engine speed, rpm",
    "speed_kmh": "Speed (satellite), km/h",
    "speed_mph": "Speed (satellite), mph",
    "indicated_kmh": "Speed on the dash, km/h",
    "indicated_mph": "Speed on the dash, mph",
    "gps_kmh": "Satellite, km/h",
    "gps_mph": "Satellite, mph",
    "from_kmh": "From, km/h",
    "to_kmh": "To, km/h",
    "from_mph": "From, mph",
    "to_mph": "To, mph",
    "time_s": "Seconds",
}


@dataclass(frozen=True)
class Sheet:
    """A sheet as it stands: headers, rows of cells, and the version they are."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    revision: str
    delimiter: str

    @property
    def empty(self) -> bool:
        """Whether nothing is written into it."""
        return not any(cell.strip() for row in self.rows for cell in row)


def kind_of(file: str) -> Kind | None:
    """Return the sheet of that name; None for any other name, which no page opens."""
    return next((kind for kind in KINDS if kind.file == file), None)


def as_table(text: str, head: tuple[str, ...]) -> Sheet:
    """Cut the text of a sheet into cells; `head` where it is empty."""
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count) if first.strip() else ","
    rows = [tuple(row) for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)]
    own = tuple(cell.strip() for cell in rows[0]) if rows else head
    return Sheet(own, tuple(row for row in rows[1:] if row), revision(text), delimiter)


def read_sheet(path: Path, kind: Kind, unit: str) -> Sheet:
    """Read a sheet, or an empty one with the headers of `unit` where there is none yet.

    Raises
    ------
    InputError
        The file cannot be read as a sheet.
    """
    try:
        return as_table(read_text(path), kind.heads.get(unit, ("",)))
    except csv.Error as error:
        raise InputError(path.name, f"this is no sheet ({error})", "Save it again as CSV") from None


def save_sheet(path: Path, head: list[str], rows: list[list[str]], shown: str, delimiter: str) -> str:
    """Write a sheet, rows that hold nothing left out, and return its version.

    Raises
    ------
    StaleError
        The file has changed since it was shown.
    InputError
        More rows or longer cells than a person types, or the file cannot be written.
    """
    cells = [cell for row in [head, *rows] for cell in row]
    wide = max(map(len, [head, *rows]))
    if len(rows) > MOST_ROWS or wide > MOST_COLUMNS or any(len(cell) > LONGEST_CELL for cell in cells):
        raise InputError(
            path.name,
            f"found {len(rows)} rows of up to {wide} cells; allowed are {MOST_ROWS} rows, {MOST_COLUMNS} columns and "
            f"{LONGEST_CELL} characters a cell",
            "Drop a file of that size under Logs instead",
        )
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter if delimiter in (",", ";", "\t") else ",", lineterminator="\n")
    writer.writerow(head)
    writer.writerows([" ".join(cell.split()) for cell in row] for row in rows if any(cell.strip() for cell in row))
    return save(path, out.getvalue(), shown)
