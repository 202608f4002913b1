"""A table of the page: cells of text, an interval below the number that it belongs to."""

from __future__ import annotations

from dataclasses import dataclass

from gearfit import words
from gearfit.results import Estimate


@dataclass(frozen=True)
class Cell:
    """What a cell says, and what stands smaller below it."""

    text: str
    below: str = ""


@dataclass(frozen=True)
class Table:
    """One table; the first cell of a row is its head; `name` is what links to it use."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    remark: str = ""
    name: str = ""


def row(*cells: Cell | str) -> tuple[Cell, ...]:
    """Make a row of cells and texts."""
    return tuple(cell if isinstance(cell, Cell) else Cell(cell) for cell in cells)


def estimate_cell(estimate: Estimate | None, *, signed: bool = False) -> Cell:
    """Show a value with its interval below."""
    if estimate is None:
        return Cell(words.NOTHING)
    ends = words.interval(estimate, signed=signed)
    return Cell(words.value(estimate, signed=signed), "no interval" if ends == words.NOTHING else ends)
