"""Delimited text as a table of cells: columns of use, line numbers; nothing is interpreted yet."""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.errors import LogError, NoRowsError
from gearfit.importers.common.content import FIRST_LINES
from gearfit.importers.common.header_line import Header, Top, cut, read_top
from gearfit.importers.common.headers import Meaning
from gearfit.importers.common.quoting import quoted
from gearfit.machine.bike import ColumnNames
from gearfit.records.words import count

Lines = NDArray[np.int64]

#: How a cell begins that may be part of a number cut in two by its decimal comma.
_FIRST_OF_A_NUMBER: Final = frozenset("0123456789+-.,")
#: Letters that are cut into lines in one go: a file of line feeds takes no more memory than these.
_LETTERS_AT_A_TIME: Final = 1 << 20
#: Cells of a row that are headers from which it is a header and not a row of values.
_HEADER_CELLS: Final = 2


@dataclass(frozen=True, eq=False)
class Table:
    """Cells of a delimited text.

    Attributes
    ----------
    name : str
        Name of the file.
    meanings : tuple of Meaning or None
        One for each column of the file; None where gearfit has no use for it.
    cells : pandas.DataFrame
        Text, blanks trimmed; columns numbered from 0, only the first and those of use.
    lines : numpy.ndarray
        Line number in the file (from 1) of each row.
    notes : tuple of str
        Lines left out.
    own_times : bool
        Whether the channels had time columns of their own, so that each fills only its own rows.
    doubtful : mapping of int to numpy.ndarray of bool
        By number of column, the cells that the writer marked as doubtful; nothing where nobody looked for marks.
    """

    name: str
    meanings: tuple[Meaning | None, ...]
    cells: pd.DataFrame
    lines: Lines
    notes: tuple[str, ...]
    own_times: bool = False
    doubtful: Mapping[int, NDArray[np.bool_]] = field(default_factory=dict)


def read_table(name: str, text: str, names: ColumnNames) -> Table:
    """Cut a delimited text into cells.

    Raises
    ------
    NoRowsError
        There is a header and no rows below.
    LogError
        No header, an open quotation mark, more cells than headers in most rows, or another header further down.
    """
    top = read_top(name, text.split("\n", FIRST_LINES)[:FIRST_LINES], names)
    header, used = top.header, top.used
    body, numbers = _rows(text, top.lines, header.delimiter)
    cells = _cells(name, body, header.delimiter, len(header.cells), sorted({0, *used}))
    filled = (cells != "").any(axis=1).to_numpy() & ~cells[0].str.startswith("#").to_numpy()
    cells, numbers, notes = _without_surplus(name, body, top, cells, numbers, filled)
    cells, numbers, repeated = _without_headers(name, header, top.units, cells, numbers, used)
    if not len(cells):
        raise NoRowsError(name, "there is a header and no rows yet", "Fill in the sheet, or remove the file")
    notes += repeated + top.notes
    return Table(name, top.meanings, cells.reset_index(drop=True), numbers, notes)


def _rows(text: str, above: int, delimiter: str) -> tuple[list[str], Lines]:
    """Cut the text below so many lines into rows, with their line numbers; those that hold nothing are never kept."""
    nothing = f"{delimiter} \t\r\v\f"
    place = len(text) - len(text.split("\n", above)[above]) if text.count("\n") >= above else len(text)
    rows: list[str] = []
    numbers = [np.empty(0, dtype=np.int64)]
    number = above + 1
    while place < len(text):
        end = text.find("\n", place + _LETTERS_AT_A_TIME)
        end = len(text) if end < 0 else end
        lines = text[place:end].split("\n")
        kept = [k for k, line in enumerate(lines) if line.strip(nothing)]
        rows += [lines[k] for k in kept]
        numbers.append(np.array(kept, dtype=np.int64) + number)
        number += len(lines)
        place = end + 1
    return rows, np.concatenate(numbers)


def _cells(name: str, body: list[str], delimiter: str, width: int, wanted: list[int]) -> pd.DataFrame:
    if not body:
        raise NoRowsError(name, "there is a header and no rows yet", "Fill in the sheet, or remove the file")
    try:
        cells = pd.read_csv(
            io.StringIO("\n".join(body)),
            sep=delimiter,
            header=None,
            names=list(range(width)),
            usecols=wanted,
            dtype="str",
            keep_default_na=False,
            skip_blank_lines=False,
            index_col=False,
        )
    except pd.errors.ParserError:
        cells = None
    widest = max(line.count(delimiter) for line in body) + 1 if cells is None else width
    if widest <= wanted[-1]:
        raise LogError(
            name,
            f"no row has more than {count(widest, 'cell')} below a header of {width}; which column is missing cannot "
            "be told; allowed are rows as long as the header, with nothing between delimiters where a value is missing",
            "Fill up the rows, or take the headers away that have no values",
        )
    if cells is None or len(cells) != len(body):
        raise LogError(
            name,
            "a quotation mark is opened and never closed",
            "Remove quotation marks from the file",
        )
    cells = cells.fillna("")
    for column in cells.columns:
        cells[column] = cells[column].str.strip()
    return cells


def _without_surplus(
    name: str,
    body: list[str],
    top: Top,
    cells: pd.DataFrame,
    numbers: Lines,
    filled: NDArray[np.bool_],
) -> tuple[pd.DataFrame, Lines, tuple[str, ...]]:
    """Leave out empty rows and rows with more cells than there are headers, unless those cells hold a remark.

    Empty cells at the end do not count. Behind a column of unknown text, which may hold a delimiter, none is certain.
    """
    header, used = top.header, top.used
    width = len(header.cells)
    suspects = (n for n, line in enumerate(body) if line.count(header.delimiter) >= width and filled[n])
    surplus, remarks = np.zeros(len(body), dtype=bool), {}
    for n in suspects:
        line = body[n].rstrip(f"{header.delimiter} \t")
        behind = cut(line, header.delimiter)[width:] if line.count(header.delimiter) >= width else []
        text = next((cell for cell in behind if cell), "")
        if text and text[0] not in _FIRST_OF_A_NUMBER and used == list(range(len(used))):
            remarks[int(numbers[n])] = text
        surplus[n] = bool(text) and int(numbers[n]) not in remarks
    notes = []
    if remarks:
        first, text = next(iter(remarks.items()))
        behind_last = f"{count(len(remarks), 'remark')} behind the last column passed over"
        notes.append(f"{behind_last} (the first is line {first}: {quoted(text)}).")
    if surplus.any():
        first, wide = int(numbers[surplus][0]), int(surplus.sum())
        if wide > filled.sum() / 2:
            raise LogError(
                f"{name}, line {first}",
                f"there are more cells than the {width} headers in {wide} of {int(filled.sum())} rows",
                "With a decimal comma, use the semicolon or the tab between the cells",
            )
        notes.append(f"{count(wide, 'row')} with more cells than headers left out (the first is line {first}).")
    return cells[filled & ~surplus], numbers[filled & ~surplus], tuple(notes)


def _without_headers(
    name: str, header: Header, units: list[str], cells: pd.DataFrame, numbers: Lines, used: list[int]
) -> tuple[pd.DataFrame, Lines, tuple[str, ...]]:
    """Leave out repetitions of the header and of the row of units."""
    known = {header.cells[number] for number in used}
    alike = pd.DataFrame({number: cells[number] == header.cells[number] for number in used}, index=cells.index)
    headers = alike.all(axis=1).to_numpy()
    named = sum(cells[number].isin(known - {""}).to_numpy(dtype=np.int64) for number in used)
    other = np.flatnonzero((np.asarray(named) >= _HEADER_CELLS) & ~headers)
    if other.size:
        raise LogError(
            f"{name}, line {numbers[other[0]]}",
            "another header with the columns in another order begins here; allowed is one order in a file",
            "Split the file here",
        )
    if units:
        headers = headers | np.logical_and.reduce([(cells[number] == units[number]).to_numpy() for number in used])
    if not headers.any():
        return cells, numbers, ()
    note = f"{count(int(headers.sum()), 'repeated header line')} skipped."
    return cells[~headers], numbers[~headers], (note,)
