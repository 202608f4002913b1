"""Chooses, of all columns that a header names, the one for each channel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from gearfit.errors import LogError, UnitError
from gearfit.importers.common.cells import missing, parse
from gearfit.importers.common.headers import Meaning
from gearfit.importers.common.quoting import listed
from gearfit.importers.common.table import Table
from gearfit.importers.text.clock_times import BARE_CLOCK
from gearfit.importers.text.times import Times, read_times
from gearfit.records.recording import Column

#: Channels that stand for speeds, so that their header must state a unit.
SPEED_CHANNELS = ("speed_mps", "indicated_mps", "from_mps", "to_mps")


class Choice:
    """Columns chosen from a table: number and meaning of the column for each channel that is filled, and notes."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self.notes: list[str] = []
        self.chosen: dict[str, tuple[int, Meaning]] = {}
        for channel in dict.fromkeys(meaning.channel for meaning in table.meanings if meaning is not None):
            number, meaning = self._choose(channel)
            if missing(table.cells[number]).all():
                self.notes.append(f"Column {meaning.header!r} is empty.")
            else:
                self.chosen[channel] = (number, meaning)
        if "date" in self.chosen and "time_s" not in self.chosen:
            number, meaning = self.chosen.pop("date")
            self.chosen["time_s"] = (number, replace(meaning, channel="time_s"))

    def __contains__(self, channel: str) -> bool:
        return channel in self.chosen

    def meaning(self, channel: str) -> Meaning:
        """Return the meaning of the column chosen for a channel."""
        return self.chosen[channel][1]

    @property
    def kind_of_speed(self) -> str:
        """Whose speed the column of speeds says that it is, as `Meaning.kind`."""
        return self.meaning("speed_mps").kind if "speed_mps" in self else ""

    @property
    def headers(self) -> str:
        """The headers of the columns chosen, for messages."""
        return listed([meaning.header for _, meaning in self.chosen.values()])

    def columns(self, forms: Mapping[str, str]) -> tuple[Column, ...]:
        """Return the columns as people are told of them; `forms` replaces units by channel."""
        return tuple(
            Column(meaning.header, channel, forms.get(channel, meaning.unit or ""))
            for channel, (_, meaning) in self.chosen.items()
        )

    def times(self, cells: pd.Series[str] | None = None) -> Times:
        """Read the time column, or `cells` in its place."""
        number, meaning = self.chosen["time_s"]
        cells = self.table.cells[number] if cells is None else cells
        if "date" in self.chosen:
            bare = cells.str.fullmatch(BARE_CLOCK).to_numpy(dtype=bool)
            dates = self.table.cells[self.chosen["date"][0]]
            cells = cells.where(~bare, dates + " " + cells)
        return read_times(cells, self.table.lines, self.table.name, meaning)

    def _choose(self, channel: str) -> tuple[int, Meaning]:
        candidates = [
            (number, meaning)
            for number, meaning in enumerate(self.table.meanings)
            if meaning is not None and meaning.channel == channel
        ]
        usable = candidates
        if channel in SPEED_CHANNELS:
            self._refuse_without_unit(candidates)
            usable = [entry for entry in candidates if entry[1].unit is not None]
        if len(candidates) == 1:
            return candidates[0]
        filled = [entry for entry in usable if self._can_be_read(*entry)]
        best = min(filled or usable, key=lambda entry: entry[1].rank)
        others = listed([repr(meaning.header) for number, meaning in candidates if number != best[0]])
        self.notes.append(f"Column {best[1].header!r} is used and {others} is not, as both give the same quantity.")
        return best

    def _can_be_read(self, number: int, meaning: Meaning) -> bool:
        cells = self.table.cells[number]
        if meaning.channel != "time_s":
            return bool(np.isfinite(parse(cells)).any())
        try:
            read_times(cells, self.table.lines, self.table.name, meaning)
        except LogError:
            return False
        return True

    def _refuse_without_unit(self, candidates: list[tuple[int, Meaning]]) -> None:
        if any(meaning.unit is not None for _, meaning in candidates):
            return
        meaning = candidates[0][1]
        stem = {"speed_mps": "speed", "indicated_mps": "indicated", "from_mps": "from", "to_mps": "to"}
        word = stem[meaning.channel]
        named = word in ("speed", "indicated")
        in_bike_file = f', or [columns] {word}_unit = "km/h" (or "mph") in bike.toml' if named else ""
        raise UnitError(
            f"{self.table.name}, column {meaning.header!r}",
            "the header states no unit of speed that is known; allowed are km/h, mph, m/s, knots and ft/s",
            f"Write {word}_kmh or {word}_mph (or {word}_mps) as the header{in_bike_file}",
        )
