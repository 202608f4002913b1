"""A table of the page: cells of text, an interval below the number that it belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gearfit.records import words
from gearfit.records.results import Estimate


@dataclass(frozen=True)
class Cell:
    """What a cell says, and what stands smaller below it."""

    text: str
    below: str = ""


@dataclass(frozen=True)
class Table:
    """One table; the first cell of a row is its head; `name` is what links to it use.

    `about` names the setup that it shows alone.
    """

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    remark: str = ""
    name: str = ""
    about: str = ""


#: Head and cells of a column.
Column = tuple[str, Sequence[Cell | str]]


def with_words(columns: Sequence[Column]) -> list[Column]:
    """Return the columns in which some cell says something."""
    return [column for column in columns if any(cell.text != words.NOTHING for cell in row(*column[1]))]


def table_of(title: str, columns: Sequence[Column], remark: str, name: str) -> Table:
    """Make a table of columns of one length."""
    rows = tuple(row(*cells) for cells in zip(*(cells for _, cells in columns), strict=True))
    return Table(title, tuple(head for head, _ in columns), rows, remark, name)


def row(*cells: Cell | str) -> tuple[Cell, ...]:
    """Make a row of cells and texts."""
    return tuple(cell if isinstance(cell, Cell) else Cell(cell) for cell in cells)


def estimate_cell(estimate: Estimate | None, *, signed: bool = False) -> Cell:
    """Show a value with its interval below."""
    if estimate is None:
        return Cell(words.NOTHING)
    ends = words.interval(estimate, signed=signed)
    return Cell(words.value(estimate, signed=signed), "no interval" if ends == words.NOTHING else ends)
