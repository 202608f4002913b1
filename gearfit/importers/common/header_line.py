"""Reads what stands above the rows of a delimited text: the header line, its delimiter, a row of units below."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import Final

from gearfit.errors import LogError
from gearfit.importers.common.content import FIRST_LINES
from gearfit.importers.common.headers import Meaning, is_unit_text
from gearfit.importers.common.named import meaning_of
from gearfit.machine.bike import ColumnNames
from gearfit.records.words import count

DELIMITERS: Final = ("\t", ";", "|", ",")
#: A line with more columns is no header.
MOST_COLUMNS: Final = 20_000
#: Lines in which the header is looked for (one line more may hold units), and columns that it must name.
HEADER_WITHIN: Final = FIRST_LINES - 1
_HEADER_COLUMNS: Final = 2
READINGS: Final = frozenset(("speed_mps", "indicated_mps", "engine_rpm"))


@dataclass(frozen=True)
class Header:
    """The header line: index of the line (from 0), delimiter and cells."""

    index: int
    delimiter: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Top:
    """What stands above the rows.

    Attributes
    ----------
    header : Header
        The header line.
    units : list of str
        Cells of the row of units below; empty where there is none.
    meanings : tuple of Meaning or None
        One for each column; None where gearfit has no use for it.
    lines : int
        Lines above the first row.
    notes : tuple of str
        What is not used.
    """

    header: Header
    units: list[str]
    meanings: tuple[Meaning | None, ...]
    lines: int
    notes: tuple[str, ...]

    @property
    def used(self) -> list[int]:
        """Numbers of the columns of use."""
        return [number for number, meaning in enumerate(self.meanings) if meaning is not None]


def read_top(name: str, lines: list[str], names: ColumnNames) -> Top:
    """Read what stands above the rows; of the lines only the first, up to the row below the header, are looked at.

    Raises
    ------
    LogError
        No header line.
    """
    header = find_header(lines, names)
    if header is None:
        raise LogError(name, "no header line names two columns", "Name the columns in the first line")
    units = units_below(header, lines)
    headers = with_units(header.cells, units)
    meanings = tuple(meaning_of(cell, names) for cell in headers)
    notes = []
    above = sum(bool(line.strip()) and not line.lstrip().startswith("#") for line in lines[: header.index])
    if above:
        notes.append(f"{count(above, 'line')} above the header skipped.")
    unused = sum(meaning is None and bool(cell) for meaning, cell in zip(meanings, headers, strict=True))
    if unused:
        notes.append(f"{count(unused, 'other column')} not used.")
    return Top(header, units, meanings, header.index + 1 + bool(units), tuple(notes))


def cut(line: str, delimiter: str) -> list[str]:
    """Cut one line into cells, blanks trimmed; a line that cannot be cut is one cell."""
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
    except csv.Error:
        return [line.strip()]


def find_header(lines: list[str], names: ColumnNames) -> Header | None:
    """Return the first line that names at least two channels, or None."""
    for index, line in enumerate(lines[:HEADER_WITHIN]):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        best, found = None, _HEADER_COLUMNS - 1
        for delimiter in DELIMITERS:
            if not 0 < line.count(delimiter) < MOST_COLUMNS:
                continue
            cells = tuple(cut(line, delimiter))
            named = _columns_named(cells, names)
            if named > found:
                best, found = Header(index, delimiter, cells), named
        if best is not None:
            return best
    return None


def _columns_named(cells: tuple[str, ...], names: ColumnNames) -> int:
    """Count the columns that a line names; a date counts beside a reading only, raw answers hold two readings."""
    meanings = [meaning_of(cell, names) for cell in cells if not cell[:1].isdigit()]
    channels = [meaning.channel for meaning in meanings if meaning is not None]
    dated = "date" in channels and not READINGS.isdisjoint(channels)
    return sum(channel not in ("date", "unit") for channel in channels) + dated + ("obd" in channels)


def units_below(header: Header, lines: list[str]) -> list[str]:
    """Return the row of units below the header, one text for each column; nothing where there is none."""
    if len(lines) <= header.index + 1 or lines[header.index + 1].count(header.delimiter) >= MOST_COLUMNS:
        return []
    below = cut(lines[header.index + 1], header.delimiter)
    if not any(map(is_unit_text, below)) or any(cell[:1].isdigit() for cell in below):
        return []
    return (below + [""] * len(header.cells))[: len(header.cells)]


def with_units(cells: tuple[str, ...], units: list[str]) -> tuple[str, ...]:
    """Join units to headers."""
    if not units:
        return cells
    return tuple(f"{cell} [{unit.strip('()[]')}]" if unit else cell for cell, unit in zip(cells, units, strict=True))
