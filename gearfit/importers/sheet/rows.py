"""Which rows of a hand-entered sheet are readings, and why the others are none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.importers.common.cells import missing
from gearfit.importers.common.gear_words import Gears
from gearfit.importers.common.quoting import quoted
from gearfit.importers.text.channels import Channels
from gearfit.importers.text.columns import Choice
from gearfit.importers.text.gear_notes import HOW_TO_WRITE, gears_unread
from gearfit.records.recording import NEUTRAL, NO_READING, UNREAD_GEAR
from gearfit.records.words import count

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: What people read off an instrument, none of which is zero on a row that says anything.
_READINGS = ("speed_mps", "indicated_mps", "engine_rpm")


@dataclass(frozen=True, eq=False)
class SheetRows:
    """Rows looked through.

    Attributes
    ----------
    values : dict
        Values of each channel; NaN where a zero was written for a reading.
    whole : (n,) bool
        Rows that hold all that is needed.
    left_out : dict of int to str
        Why rows with something written in every needed cell are none.
    notes, warnings : tuple of str
        What was left out, each a sentence.
    """

    values: dict[str, Floats]
    whole: Bools
    left_out: dict[int, str]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


def look_through(choice: Choice, channels: Channels) -> SheetRows:
    """Tell readings from rows in neutral, rows with a gear that cannot be read, zeros and gaps."""
    lines = choice.table.lines
    values, notes, warnings = channels.values(), [], []
    for name in _READINGS:
        if name in values and (zero := values[name] == 0.0).any():
            values[name] = np.where(zero, np.nan, values[name])
            if not (name == "speed_mps" and channels.only_indicated):
                notes.append(_zeros(choice, name, zero))
    needed = [name for name in ("engine_rpm", "speed_mps") if name in values]
    present = np.logical_and.reduce([np.isfinite(values[name]) for name in needed])
    some = np.logical_or.reduce([np.isfinite(values[name]) for name in needed])
    filled = np.logical_and.reduce([~missing(_cells(choice, channels, name)) for name in needed])
    gaps = ~filled
    if gaps.any():
        notes.append(f"{int(gaps.sum())} of {gaps.size} rows lack a value (the first is line {lines[gaps][0]}).")
    gears = channels.gears or Gears(np.empty(0), np.zeros(lines.size, dtype=bool), np.zeros(lines.size, dtype=bool))
    unread = gears.unread & some
    if gears.neutral.any():
        how_many = count(int(gears.neutral.sum()), "row")
        notes.append(f"{how_many} in neutral left out (the first is line {lines[gears.neutral][0]}).")
    if unread.any():
        rows = "that row is" if unread.sum() == 1 else f"these {int(unread.sum())} rows are"
        said = gears_unread(choice, Gears(gears.gear, gears.neutral, unread)).removesuffix(".")
        warnings.append(f"{said}; {rows} left out. {HOW_TO_WRITE}.")
    left_out = dict.fromkeys(np.flatnonzero(unread).tolist(), UNREAD_GEAR)
    left_out |= dict.fromkeys(np.flatnonzero(gears.neutral).tolist(), NEUTRAL)
    left_out |= dict.fromkeys(np.flatnonzero(filled & ~present).tolist(), NO_READING)
    whole = present.copy()
    whole[list(left_out)] = False
    return SheetRows(values, whole, left_out, tuple(notes), tuple(warnings))


def _cells(choice: Choice, channels: Channels, name: str) -> pd.Series[str]:
    number, _ = choice.chosen[shown_or_measured(channels, name)]
    return choice.table.cells[number]


def shown_or_measured(channels: Channels, name: str) -> str:
    """Return the channel whose column gave a speed: the speedometer's where there is no other."""
    return "indicated_mps" if name == "speed_mps" and channels.only_indicated else name


def _zeros(choice: Choice, name: str, zero: Bools) -> str:
    number, meaning = choice.chosen[name]
    row = int(np.flatnonzero(zero)[0])
    more = "" if zero.sum() == 1 else f", and {int(zero.sum()) - 1} more such"
    written = quoted(choice.table.cells[number].iloc[row])
    return f"Line {choice.table.lines[row]}, column {meaning.header!r}: {written} is no reading{more}; left out."
