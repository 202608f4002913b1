"""What is said of gears that were written and cannot be read."""

from __future__ import annotations

from typing import Final

import numpy as np

from gearfit.importers.common.gear_words import MOST_GEARS, Gears
from gearfit.importers.common.quoting import quoted
from gearfit.importers.text.columns import Choice

HOW_TO_WRITE: Final = (
    f"Write the gear as a number from 1 to {MOST_GEARS}, N in neutral, or nothing where it is not known"
)


def gears_unread(choice: Choice, gears: Gears) -> str:
    """Say where the first gear that cannot be read stands, and how many more there are; with a full stop."""
    number, meaning = choice.chosen["stated_gear"]
    rows = np.flatnonzero(gears.unread)
    cells, line = choice.table.cells[number], choice.table.lines[rows[0]]
    others = list(dict.fromkeys(quoted(cells.iloc[row]) for row in rows[1:] if cells.iloc[row] != cells.iloc[rows[0]]))
    such = (
        "" if rows.size == 1 else f", and {rows.size - 1} more such" + (f" ({', '.join(others[:3])})" if others else "")
    )
    return f"Line {line}, column {meaning.header!r}: {quoted(cells.iloc[rows[0]])} is no gear that can be read{such}."
