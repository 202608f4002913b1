"""Cells as people write them into a notebook: "46 mph", "~36", "36?", "5 000 rpm", "5.5k", "46 # headwind"."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from gearfit.errors import UnitError
from gearfit.importers.common.cells import missing
from gearfit.importers.common.gear_words import read_gear
from gearfit.importers.common.headers import Meaning
from gearfit.importers.common.quoting import listed, quoted
from gearfit.importers.common.table import Table
from gearfit.importers.common.thousands import parted
from gearfit.importers.common.unit_spellings import (
    LENGTH_SPELLINGS,
    RPM_SPELLINGS,
    SPEED_SPELLINGS,
    THOUSANDS,
    TIME_SPELLINGS,
    unit_of,
)
from gearfit.importers.text.columns import SPEED_CHANNELS
from gearfit.records.words import count

_IN_THOUSANDS: Final = THOUSANDS | {"k"}
#: Columns of readings, and the spellings of the units that their cells may carry.
_UNITS: Final = {
    **dict.fromkeys(SPEED_CHANNELS, frozenset(SPEED_SPELLINGS)),
    "engine_rpm": RPM_SPELLINGS | _IN_THOUSANDS,
    "time_s": frozenset(TIME_SPELLINGS),
    **dict.fromkeys(("odometer_start_m", "odometer_end_m", "odometer_true_m"), frozenset(LENGTH_SPELLINGS)),
}
_ALL_UNITS: Final = frozenset[str]().union(*_UNITS.values())
_ABOUT: Final = r"~|≈|ca\.?|c\.|circa|cirka|approx\.?|about|around|roughly|etwa|env\.?|environ"
_DOUBT: Final = r"\(\?+\)|\?+|-?\s?ish|approx\.?|ca\.?|or so"
_NUMBER: Final = r"[+-]?(?:[0-9](?:[0-9.,]|[ '](?=[0-9]{3}(?![0-9])))*|[.,][0-9]+)"
_READING: Final = re.compile(
    rf"(?P<about>{_ABOUT})?\s*(?P<number>{_NUMBER})\s*(?P<doubt>{_DOUBT})?"
    rf"\s*(?P<unit>\(?[a-z1][a-z/0-9 -]*?\)?\.?)?\s*(?P<more_doubt>{_DOUBT})?"
)
#: What follows a reading without being part of it: a remark behind "#", or in brackets without a digit.
_REMARK: Final = re.compile(r"(?<=[^\s#(])\s*(?:#.*|\((?!\?)[^()0-9]*\))$")


@dataclass(frozen=True)
class _Cell:
    """One cell taken apart: the bare number, its unit, whether the rider doubts it, and a remark."""

    number: str
    unit: str = ""
    doubtful: bool = False
    remark: str = ""


def with_bare_cells(table: Table) -> Table:
    """Take units, marks of doubt and remarks out of the cells of a sheet; leave out lines without a reading.

    A unit that all filled cells of a column carry is that of the column where its header states none. A log stays as
    it is.

    Raises
    ------
    UnitError
        A cell carries another unit than the header or the other cells.
    """
    columns = {
        number: meaning
        for number, meaning in enumerate(table.meanings)
        if meaning is not None and meaning.channel in _UNITS
    }
    if not columns or _is_log(table, columns):
        return table
    table = _without_text_lines(table, list(columns))
    meanings, cells, doubtful = list(table.meanings), table.cells.copy(), dict(table.doubtful)
    notes = list(table.notes)
    for number, meaning in columns.items():
        known = {text: _apart(text) for text in cells[number].unique()}
        written = [known[text] for text in cells[number]]
        meanings[number] = found = _with_unit(table, number, meaning, written)
        numbers = [cell.number for cell in written]
        if found.channel == "engine_rpm" and found.factor == 1.0:
            numbers = _whole_revolutions(written)
        cells[number] = pd.Series(numbers, index=cells.index, dtype="str")
        doubtful[number] = np.array([cell.doubtful for cell in written], dtype=bool)
        notes += _notes(table, meaning, written)
    meanings = _with_unit_of_standing(meanings, cells)
    return replace(table, meanings=tuple(meanings), cells=cells, doubtful=doubtful, notes=tuple(notes))


def _is_log(table: Table, columns: dict[int, Meaning]) -> bool:
    """Whether a table has filled times that are no times of runs."""
    channels = {meaning.channel for meaning in columns.values()}
    times = [number for number, meaning in columns.items() if meaning.channel == "time_s"]
    return not {"from_mps", "to_mps"} <= channels and any(not missing(table.cells[number]).all() for number in times)


def _without_text_lines(table: Table, columns: list[int]) -> Table:
    """Leave out titles, rows of dashes and remarks: lines without a digit in any column of readings, but with text."""
    others = [n for n, meaning in enumerate(table.meanings) if meaning is not None and n not in columns]
    stated = table.cells[others].map(lambda cell: any(map(str.isdecimal, cell)) or read_gear(cell) is not None)
    numbered = table.cells[columns].apply(lambda cells: cells.str.contains(r"\d"))
    text = ~(stated.any(axis=1) | numbered.any(axis=1)).to_numpy(dtype=bool)
    if not text.any() or text.all():
        return table
    first = int(np.flatnonzero(text)[0])
    said = next((cell for cell in table.cells.iloc[first] if cell), "")
    how_many = count(int(text.sum()), "line")
    note = f"{how_many} without a reading passed over (the first is line {table.lines[first]}: {quoted(said)})."
    return replace(
        table, cells=table.cells[~text].reset_index(drop=True), lines=table.lines[~text], notes=(*table.notes, note)
    )


def _apart(text: str) -> _Cell:
    """Take a cell apart; what is no reading stays as it is."""
    plain = " ".join(unicodedata.normalize("NFKC", text).casefold().replace("’", "'").split())
    found = _match(plain)
    remark = ""
    if found is None and (behind := _REMARK.search(plain)):
        remark = plain[behind.start() :].strip()
        found = _match(plain[: behind.start()].strip())
    if found is None:
        return _Cell(text)
    unit = re.sub(r"[\s().]+", "", found["unit"] or "")
    if unit and unit not in _ALL_UNITS:
        return _Cell(text)
    number = found["number"].replace(" ", "").replace("'", "")
    doubtful = any(found[mark] for mark in ("about", "doubt", "more_doubt")) or "?" in remark
    return _Cell(number, unit, doubtful, remark)


def _match(text: str) -> re.Match[str] | None:
    return _READING.fullmatch(text)


def _with_unit(table: Table, number: int, meaning: Meaning, written: list[_Cell]) -> Meaning:
    """Return what a column means when its cells have been heard."""
    units: dict[str, int] = {}
    for cell, line in zip(written, table.lines, strict=True):
        if cell.unit:
            units.setdefault(cell.unit, int(line))
    if not units:
        return meaning
    foreign = [unit for unit in units if unit not in _UNITS[meaning.channel]]
    labels = {unit: _label(meaning.channel, unit) for unit in units}
    stated = meaning.unit if meaning.unit is not None else ""
    others = foreign or [unit for unit in units if stated and not _agrees(labels[unit], stated)]
    where = f"{table.name}, line {{}}, column {meaning.header!r}"
    if others:
        raise UnitError(
            where.format(units[others[0]]),
            f"the cell says {others[0]}"
            + (f" and the header {stated}" if stated else ", which is no unit of this column"),
            "Write one unit for the whole column",
        )
    if stated:
        return meaning
    if len(set(labels.values())) > 1:
        raise UnitError(
            where.format(min(units.values())),
            f"the cells say {listed(list(units))}; allowed is one unit in a column",
            "Write one unit for the whole column",
        )
    empty = missing(table.cells[number])
    if all(cell.unit or blank or _is_zero(cell) for cell, blank in zip(written, empty, strict=True)):
        label, factor = unit_of(meaning.channel, next(iter(units)))
        return replace(meaning, unit=label, factor=factor)
    return meaning


def _with_unit_of_standing(meanings: list[Meaning | None], cells: pd.DataFrame) -> list[Meaning | None]:
    """Give a column of nothing but zeros (standing starts) and without a unit that of another column of speeds."""
    speeds = [meaning for meaning in meanings if meaning is not None and meaning.channel in SPEED_CHANNELS]
    stated = next((meaning for meaning in speeds if meaning.unit is not None), None)
    if stated is None:
        return meanings
    return [
        replace(meaning, unit=stated.unit, factor=stated.factor)
        if meaning in speeds and meaning.unit is None and cells[number].str.fullmatch("[0.,]*").all()
        else meaning
        for number, meaning in enumerate(meanings)
    ]


def _label(channel: str, unit: str) -> str:
    return unit_of(channel, "krpm" if unit in _IN_THOUSANDS else unit)[0] or ""


def _agrees(label: str, stated: str) -> bool:
    """Whether the unit of a cell is that of the header; thousands of revolutions in single cells are reckoned out."""
    return label == stated or (label, stated) == ("1000 rpm", "rpm")


def _is_zero(cell: _Cell) -> bool:
    """Whether a cell holds a zero, which needs no unit (a standing start)."""
    return not cell.number.strip("0.,")


def _whole_revolutions(written: list[_Cell]) -> list[str]:
    """Write engine speeds in rev/min: "5.5k" is 5500, and "5.000" is 5000 where all else in the column is an engine."""
    numbers = [cell.number for cell in written]
    for place, cell in enumerate(written):
        if cell.unit in _IN_THOUSANDS and (value := _value(cell.number)) is not None:
            numbers[place] = f"{1000.0 * value:.10g}"
    for place, number in parted(numbers).items():
        numbers[place] = number
    return numbers


def _value(number: str) -> float | None:
    try:
        return float(number.replace(",", "."))
    except ValueError:
        return None


def _notes(table: Table, meaning: Meaning, written: list[_Cell]) -> list[str]:
    notes = []
    doubtful = [line for cell, line in zip(written, table.lines, strict=True) if cell.doubtful]
    if doubtful:
        notes.append(
            f"Column {meaning.header!r}: {count(len(doubtful), 'value')} marked as doubtful, the first in line "
            f"{doubtful[0]}."
        )
    remarks = [(line, cell.remark) for cell, line in zip(written, table.lines, strict=True) if cell.remark]
    if remarks:
        line, text = remarks[0]
        notes.append(
            f"Column {meaning.header!r}: {count(len(remarks), 'remark')} behind a number passed over (the first is "
            f"line {line}: {quoted(text)})."
        )
    return notes
