"""Tables and paragraphs of plain text."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

_GAP: Final = "   "
_WIDTH: Final = 92
_INDENT: Final = "  "


def table(head: Sequence[str], rows: Sequence[Sequence[str]], *, words_last: bool = False) -> list[str]:
    """Set a table: the first column to the left, and the last one where it holds words; all others to the right."""
    whole = [list(head), *(list(row) for row in rows)]
    widths = [max(len(row[column]) for row in whole) for column in range(len(head))]
    lines = []
    for row in whole:
        cells = []
        for column, (cell, width) in enumerate(zip(row, widths, strict=True)):
            left = column == 0 or (words_last and column == len(head) - 1)
            cells.append(cell.ljust(width) if left else cell.rjust(width))
        lines.append((_INDENT + _GAP.join(cells)).rstrip())
    return lines


def paragraph(text: str) -> list[str]:
    """Break a text into lines."""
    return textwrap.wrap(text, _WIDTH)


def indented(text: str) -> list[str]:
    """Break a text into lines, set in as a table is."""
    return textwrap.wrap(text, _WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT)


def bullets(texts: Sequence[str]) -> list[str]:
    """Break each text into an item of a list."""
    return [
        line
        for text in texts
        for line in textwrap.wrap(text, _WIDTH, initial_indent=f"{_INDENT}- ", subsequent_indent=f"{_INDENT}  ")
    ]


def section(title: str, *blocks: Sequence[str]) -> list[str]:
    """Put a title above blocks of lines; nothing where all of them are empty."""
    lines = [line for block in blocks for line in block]
    return ["", title.upper(), *lines] if lines else []
