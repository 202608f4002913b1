"""Delimited text as a table of cells: header line, delimiter, line numbers; nothing is interpreted yet."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.errors import LogError, NoRowsError
from gearfit.importers.headers import Meaning, is_unit_text, read_header

DELIMITERS: Final = ("\t", ";", "|", ",")
#: Lines in which the header is looked for, and columns that it must name.
_HEADER_WITHIN: Final = 50
_HEADER_COLUMNS: Final = 2


@dataclass(frozen=True)
class Header:
    """The header line: index of the line (from 0), delimiter and cells."""

    index: int
    delimiter: str
    cells: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Table:
    """Cells of a delimited text.

    Attributes
    ----------
    name : str
        Name of the file.
    meanings : tuple of Meaning or None
        One for each column of `cells`; None where gearfit has no use for it.
    cells : pandas.DataFrame
        Text, blanks trimmed; columns numbered from 0.
    lines : numpy.ndarray
        Line number in the file (from 1) of each row.
    notes : tuple of str
        Lines left out.
    """

    name: str
    meanings: tuple[Meaning | None, ...]
    cells: pd.DataFrame
    lines: NDArray[np.int64]
    notes: tuple[str, ...]


def find_header(lines: list[str]) -> Header | None:
    """Return the first line that names at least two channels, or None."""
    for index, line in enumerate(lines[:_HEADER_WITHIN]):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        best, found = None, _HEADER_COLUMNS - 1
        for delimiter in DELIMITERS:
            cells = tuple(cell.strip() for cell in next(csv.reader([line], delimiter=delimiter)))
            count = sum(read_header(cell) is not None for cell in cells)
            if count > found:
                best, found = Header(index, delimiter, cells), count
        if best is not None:
            return best
    return None


def read_table(name: str, text: str) -> Table:
    """Cut a delimited text into cells.

    Raises
    ------
    NoRowsError
        There is a header and no rows below.
    LogError
        No header, an open quotation mark, or more cells than headers in most rows.
    """
    lines = text.split("\n")
    header = find_header(lines)
    if header is None:
        raise LogError(name, "no header line names two columns", "Name the columns in the first line")
    names, skip = _with_units(header, lines)
    cells = _cells(name, lines[header.index + skip :], header.delimiter, len(names))
    numbers = np.arange(len(cells), dtype=np.int64) + header.index + skip + 1
    filled = (cells != "").any(axis=1).to_numpy() & ~cells[0].str.startswith("#").to_numpy()
    cells, numbers = cells[filled], numbers[filled]
    if not len(cells):
        raise NoRowsError(name, "there is a header and no rows yet", "Fill in the sheet, or remove the file")
    cells, numbers, notes = _without_surplus(name, cells, numbers, len(names))
    meanings = tuple(read_header(cell) for cell in names)
    above = sum(bool(line.strip()) and not line.lstrip().startswith("#") for line in lines[: header.index])
    if above:
        notes += (f"{_plural(above, 'line')} above the header skipped.",)
    unused = sum(meaning is None and bool(cell) for meaning, cell in zip(meanings, names, strict=True))
    if unused:
        notes += (f"{_plural(unused, 'other column')} not used.",)
    return Table(name, meanings, cells.reset_index(drop=True), numbers, notes)


def _with_units(header: Header, lines: list[str]) -> tuple[tuple[str, ...], int]:
    """Join a row of units below the header to it; return the headers and the number of lines they take."""
    if len(lines) > header.index + 1:
        below = [cell.strip() for cell in next(csv.reader([lines[header.index + 1]], delimiter=header.delimiter), [])]
        if any(map(is_unit_text, below)) and not any(cell[:1].isdigit() for cell in below):
            below += [""] * (len(header.cells) - len(below))
            joined = (f"{cell} [{unit}]" if unit else cell for cell, unit in zip(header.cells, below, strict=False))
            return tuple(joined), 2
    return header.cells, 1


def _cells(name: str, body: list[str], delimiter: str, width: int) -> pd.DataFrame:
    widest = max((line.count(delimiter) + 1 for line in body), default=1)
    if not any(line.strip() for line in body):
        raise NoRowsError(name, "there is a header and no rows yet", "Fill in the sheet, or remove the file")
    while body and not body[-1].strip():
        body = body[:-1]
    try:
        cells = pd.read_csv(
            io.StringIO("\n".join(body)),
            sep=delimiter,
            header=None,
            names=list(range(max(width, widest))),
            dtype="str",
            keep_default_na=False,
            skip_blank_lines=False,
            index_col=False,
        )
    except pd.errors.ParserError as error:
        raise LogError(
            name,
            "a quotation mark is opened and never closed",
            "Remove quotation marks from the file",
        ) from error
    cells = cells.fillna("")
    for column in cells.columns:
        cells[column] = cells[column].str.strip()
    return cells


def _without_surplus(
    name: str, cells: pd.DataFrame, numbers: NDArray[np.int64], width: int
) -> tuple[pd.DataFrame, NDArray[np.int64], tuple[str, ...]]:
    """Leave out rows with more cells than there are headers (empty ones at the end do not count)."""
    surplus = (cells.iloc[:, width:] != "").any(axis=1).to_numpy()
    cells = cells.iloc[:, :width]
    if not surplus.any():
        return cells, numbers, ()
    first, count = int(numbers[surplus][0]), int(surplus.sum())
    if count > len(cells) / 2:
        raise LogError(
            f"{name}, line {first}",
            f"there are more cells than the {width} headers in {count} of {len(cells)} rows",
            "With a decimal comma, use the semicolon or the tab between the cells",
        )
    note = f"{_plural(count, 'row')} with more cells than headers left out (the first is line {first})."
    return cells[~surplus], numbers[~surplus], (note,)


def _plural(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
