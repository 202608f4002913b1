"""Logs in which channels have time columns of their own: puts their rows, as text, under one time column."""

from __future__ import annotations

from dataclasses import replace
from functools import reduce

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.common.cells import missing
from gearfit.importers.common.quoting import listed
from gearfit.importers.common.table import Table
from gearfit.importers.text.clock_times import BARE_CLOCK, DAY_S
from gearfit.importers.text.time_owners import TimedGroup, timed_groups
from gearfit.importers.text.times import Times, read_times
from gearfit.records.words import count

Floats = NDArray[np.float64]

#: Times less than this apart are one moment (a Unix time in floating point is no finer), as decimals of a second.
_DECIMALS = 6
#: Times in two forms that differ by no more than this are the same, s (milliseconds against finer).
_SAME_S = 1e-3


def with_one_time_column(table: Table) -> Table:
    """Return the table with the rows of all channels in the order of their times; as it is where it is an ordinary log.

    The cells stay text, so that whatever reads the table sees each as it was written. Within a channel the rows keep
    the order of the file. Rows of several channels at the same moment become one.

    Raises
    ------
    LogError
        The time columns have several units or clocks, or none that can be read.
    UnitError
        Plain numbers that may be seconds or milliseconds.
    """
    groups = tuple(group for group in timed_groups(table.meanings) if _holds_values(table, group))
    if len(groups) < 2:
        return table
    written = _times_written(table, groups)
    times = [
        read_times(cells, table.lines, table.name, group.meaning) for cells, group in zip(written, groups, strict=True)
    ]
    if len({(each.clock, each.form) for each in times}) > 1:
        if _same_moments(times):
            return table
        said = [f"{g.meaning.header!r} in {t.form} ({t.clock})" for g, t in zip(groups, times, strict=True)]
        raise LogError(
            table.name,
            f"the time columns of its channels are written as {listed(said)}; allowed is one unit and one clock for "
            "all",
            "Write all time columns alike",
        )
    parts = [_rows_of(table, group, written[n], _moments(times, n)) for n, group in enumerate(groups)]
    return _merged(table, groups, parts)


def _holds_values(table: Table, group: TimedGroup) -> bool:
    return not all(missing(table.cells[number]).all() for number in group.columns)


def _times_written(table: Table, groups: tuple[TimedGroup, ...]) -> list[pd.Series[str]]:
    """Return the cells of each time column, bare clock times with their date before them.

    There is one date column for each time column, or one whose date is the same in all rows.
    """
    dates = [n for n, meaning in enumerate(table.meanings) if meaning is not None and meaning.channel == "date"]
    filled = [table.cells[number] for number in dates if not missing(table.cells[number]).all()]
    if len(filled) == 1:
        days = filled[0][~missing(filled[0])].unique()
        if len(days) == 1:
            filled = [pd.Series(days[0], index=table.cells.index, dtype="str")] * len(groups)
    if filled and len(filled) != len(groups):
        raise LogError(
            table.name,
            f"there are {len(groups)} time columns with channels of their own and {len(filled)} with dates; allowed is "
            "one date for all rows, or a column of dates for each time column",
            "Write the date into the cells of the time columns",
        )
    written = []
    for number, group in enumerate(groups):
        cells = table.cells[group.time]
        if filled:
            bare = cells.str.fullmatch(BARE_CLOCK).to_numpy(dtype=bool)
            cells = cells.where(~bare, filled[number] + " " + cells)
        written.append(cells)
    return written


def _same_moments(times: list[Times]) -> bool:
    """Whether the time columns agree in every row: one moment a row in two forms, as in an ordinary log."""
    first = times[0]
    return all(
        bool(np.all(np.abs(other.seconds - first.seconds + _ahead_s(first, other)) <= _SAME_S)) for other in times[1:]
    )


def _ahead_s(first: Times, other: Times) -> float:
    """Return how far another column begins after the first; 0 where their clocks cannot be compared."""
    return other.origin_s - first.origin_s if other.clock == first.clock else 0.0


def _moments(times: list[Times], number: int) -> Floats:
    """Return the times of one column, s, on the clock of all; clock times begin within half a day of the first's."""
    origin_s = times[number].origin_s
    if times[number].clock == "time of day":
        origin_s -= DAY_S * round((origin_s - times[0].origin_s) / DAY_S)
    return np.round(times[number].seconds + origin_s, _DECIMALS)


def _rows_of(table: Table, group: TimedGroup, written: pd.Series[str], moments: Floats) -> pd.DataFrame:
    """Return the rows of one time column, indexed by where they go; rows wholly alike once.

    The index holds the latest time so far, a count of the rows with that time, and whether the row stands alone: one
    whose own time is earlier, or cannot be read, keeps its place and is left to whoever reads the times.
    """
    rows = table.cells[list(group.columns)].assign(time=written)
    empty = np.logical_and.reduce([missing(rows[column]) for column in rows.columns])
    keep = ~empty & ~(rows.duplicated().to_numpy() & np.isfinite(moments))
    at_s = moments[keep]
    latest = np.nan_to_num(np.fmax.accumulate(at_s), nan=-np.inf)
    count = pd.Series(latest).groupby(latest).cumcount().to_numpy()
    alone = np.where(at_s == latest, 0, 1 + group.time)
    places = pd.MultiIndex.from_arrays([latest, count, alone])
    part: pd.DataFrame = rows[keep].assign(line=table.lines[keep], alike=int((~empty & ~keep).sum()))
    part.index = places
    return part


def _merged(table: Table, groups: tuple[TimedGroup, ...], parts: list[pd.DataFrame]) -> Table:
    places = reduce(lambda some, more: some.union(more), (part.index for part in parts))
    parts = [part.reindex(places) for part in parts]
    first = reduce(lambda some, more: some.combine_first(more), (part[["time", "line"]] for part in parts))
    columns = {groups[0].time: first["time"]}
    for part, group in zip(parts, groups, strict=True):
        columns |= {number: part[number].fillna("") for number in group.columns}
    kept = {number: columns[number].reset_index(drop=True) for number in sorted(columns)}
    return replace(
        table,
        meanings=tuple(meaning if number in kept else None for number, meaning in enumerate(table.meanings)),
        cells=pd.DataFrame(kept),
        lines=first["line"].to_numpy(dtype=np.int64),
        notes=(*table.notes, *_notes(table, groups, parts)),
        own_times=True,
    )


def _notes(table: Table, groups: tuple[TimedGroup, ...], parts: list[pd.DataFrame]) -> list[str]:
    said, alike = [], 0
    for group, part in zip(groups, parts, strict=True):
        headers = listed([repr(meaning.header) for meaning in group.columns.values()])
        said.append(f"{count(int(part['line'].notna().sum()), 'row')} of {headers} under {group.meaning.header!r}")
        alike += int(part["alike"].max())
    notes = [
        f"Channels have times of their own: {listed(said)}; put in order of time, {count(len(parts[0]), 'moment')}."
    ]
    if alike:
        notes.append(f"{count(alike, 'row')} wholly like an earlier row left out.")
    used = {group.time for group in groups}
    return notes + [
        f"Column {meaning.header!r} is not used, as the channels have times of their own."
        for number, meaning in enumerate(table.meanings)
        if meaning is not None and meaning.channel == "time_s" and number not in used
    ]
