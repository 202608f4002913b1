"""Notes as people write them, brought into the form of a sheet: one header, one delimiter, a line for each row.

Read are lines of a note ("3rd 5000 rpm 50 mph", "60-100 km/h 6.4 s"), columns parted by blanks, and columns of times
that are headed by their span ("0-60 mph"). What has no header is not guessed at: the message shows the file's own first
line with one.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

from gearfit.errors import LogError
from gearfit.importers.common.gear_words import read_gear
from gearfit.importers.common.header_line import DELIMITERS, cut, find_header
from gearfit.importers.common.named import meaning_of
from gearfit.importers.common.quoting import quoted
from gearfit.importers.sheet.note_lines import (
    FEWEST_LINES,
    SPAN,
    Lines,
    Written,
    key_of_unit,
    note_of_readings,
    note_of_runs,
    written,
)
from gearfit.machine.bike import ColumnNames

#: Longer texts were not written by hand.
_LONGEST: Final = 60_000
_WITH_SECONDS: Final = re.compile(r"\s*[,(\[]?\s*(?:s|sec|seconds)\s*[)\]]?$")
#: Columns that hold the two speeds of a dash and a receiver where no header states their unit.
_DASH: Final = re.compile(r"(?:speedo(?:meter)?|dash|tacho|indicated|compteur|teller)", re.IGNORECASE)
_TRUE: Final = re.compile(r"(?:gps|satnav|sat|satellite|navi|true|actual|real)", re.IGNORECASE)
#: Values of a column without a header that engine speeds, gears and speeds can have.
_RPMS, _GEARS, _SPEEDS = (700.0, 20_000.0), (1.0, 8.0), (3.0, 330.0)


def as_sheet(name: str, text: str, names: ColumnNames) -> Written | None:
    """Bring a note into the form of a sheet; None where it has a header already or is none of these.

    Raises
    ------
    LogError
        It is a table without a header, or spans of times without a unit; the message shows the first line corrected.
    """
    if len(text) > _LONGEST or find_header(text.split("\n"), names) is not None:
        return None
    lines = [(number, line.strip()) for number, line in enumerate(text.split("\n"), 1) if line.strip()]
    lines = [(number, line) for number, line in lines if not line.startswith("#")]
    forms: tuple[Callable[[str, Lines], Written | None], ...] = (
        note_of_readings,
        note_of_runs,
        _span_columns,
        _dash_without_unit,
        lambda name, rows: _blanks(name, rows, names),
        _without_header,
    )
    return next((found for form in forms if (found := form(name, lines)) is not None), None)


def _dash_without_unit(name: str, lines: Lines) -> None:
    """Refuse a dash held against a receiver without a unit in words that a person can follow.

    Raises
    ------
    LogError
        It is one.
    """
    number, head = lines[0] if lines else (1, "")
    delimiter = max(DELIMITERS, key=head.count)
    cells = cut(head, delimiter)
    if (
        len(cells) == 2
        and sum(map(bool, map(_DASH.fullmatch, cells))) == sum(map(bool, map(_TRUE.fullmatch, cells))) == 1
    ):
        both = " or ".join(quoted(delimiter.join(f"{cell} {unit}" for cell in cells)) for unit in ("km/h", "mph"))
        raise LogError(
            f"{name}, line {number}",
            f"{quoted(head)} states no unit of speed; allowed are km/h and mph",
            f"Write {both}",
        )


def _span_columns(name: str, lines: Lines) -> Written | None:
    """Read a table whose columns are spans: each cell below is a run.

    Raises
    ------
    LogError
        No span states its unit, or they state different ones.
    """
    if len(lines) < FEWEST_LINES:
        return None
    number, head = lines[0]
    delimiter = max(DELIMITERS, key=head.count)
    cells = [
        SPAN.fullmatch(re.sub(r"\s*[,(\[]?\s*(?:s|sec|seconds)\s*[)\]]?$", "", cell)) for cell in cut(head, delimiter)
    ]
    spans = {place: cell for place, cell in enumerate(cells) if cell is not None}
    if not spans or (delimiter not in head and len(cells) > 1):
        return None
    if not all(span[3] for span in spans.values()):
        first = next(span for span in spans.values() if not span[3])[0]
        raise LogError(
            f"{name}, line {number}",
            f"{quoted(first)} states no unit of speed; allowed are km/h and mph",
            f"Write {quoted(first + ' km/h')} or {quoted(first + ' mph')}",
        )
    rows = []
    for below, line in lines[1:]:
        values = cut(line, delimiter)
        for place, span in spans.items():
            value = values[place] if place < len(values) else ""
            if value:
                rows.append((below, (f"{span[1]} {span[3]}", f"{span[2]} {span[3]}", value)))
    units = {key_of_unit(span[3]) for span in spans.values()}
    if len(units) == 1:
        bare = [(below, (low.split()[0], high.split()[0], value)) for below, (low, high, value) in rows]
        return written("from_{0}\tto_{0}\ttime_s".format(*units), bare)
    metric = [(below, (_as_kmh(low), _as_kmh(high), value)) for below, (low, high, value) in rows]
    return written("from_kmh\tto_kmh\ttime_s", metric)


def _as_kmh(speed: str) -> str:
    number, unit = speed.split(maxsplit=1)
    value = float(number.replace(",", "."))
    return f"{value * 1.609344:.6f}" if key_of_unit(unit) == "mph" else f"{value:g}"


def _blanks(name: str, lines: Lines, names: ColumnNames) -> Written | None:
    """Read columns parted by blanks below a header: by two or more where headers have blanks in them, else by one.

    Raises
    ------
    LogError
        A row has fewer cells than a header needs: nobody can tell which one is missing.
    """
    for gap in (r"\s{2,}", r"\s+"):
        for place, (_, line) in enumerate(lines[:-1]):
            heads = re.split(gap, line)
            if find_header(["\t".join(heads)], names) is None:
                continue
            rows = [(number, re.split(gap, below)) for number, below in lines[place + 1 :]]
            if all(len(cells) <= len(heads) for _, cells in rows) and any(
                len(cells) == len(heads) for _, cells in rows
            ):
                _refuse_gaps(name, heads, rows, names)
                return written("\t".join(heads), rows)
    return None


def _refuse_gaps(name: str, heads: list[str], rows: list[tuple[int, list[str]]], names: ColumnNames) -> None:
    needed = max(place for place, head in enumerate(heads, 1) if meaning_of(head, names) is not None)
    for number, cells in rows:
        figures = sum(_value(cell) is not None for cell in cells)
        if len(cells) < needed and figures > 1:
            ways = [
                quoted("  ".join([*cells[:place], "-", *cells[place:]]))
                for place in range(len(cells) + 1)
                if len(cells) == needed - 1
            ]
            raise LogError(
                f"{name}, line {number}",
                f"{quoted('  '.join(cells))} has {len(cells)} values under {needed} headers; which one is missing "
                "cannot be told",
                f"Write - for what is missing{', such as ' + ' or '.join(ways) if ways else ''}",
            )


def _without_header(name: str, lines: Lines) -> None:
    """Refuse a table of numbers without a header in words that a person can follow.

    Raises
    ------
    LogError
        It is one; its columns are named as far as their values tell.
    """
    if len(lines) < FEWEST_LINES:
        return
    first = lines[0][1]
    delimiter = next((mark for mark in (*DELIMITERS, None) if mark is None or mark in first), None)
    table = [line.split(delimiter) for _, line in lines]
    if len({len(row) for row in table}) != 1 or not 2 <= len(table[0]) <= 4:
        return
    columns = [[_value(cell) for cell in column] for column in zip(*table, strict=True)]
    named = [_likely(column) for column in columns]
    if any(None in column for column in columns) or "rpm" not in named or named.count("speed") != 1:
        return
    shown = delimiter or " "
    both = " or ".join(
        quoted(shown.join(f"speed_{unit}" if column == "speed" else column for column in named))
        for unit in ("kmh", "mph")
    )
    raise LogError(
        f"{name}, line {lines[0][0]}",
        f"{quoted(first)} has no line above it that names the columns; whether speeds are km/h or mph cannot be told",
        f"Write {both} above it",
    )


def _value(cell: str) -> float | None:
    gear = read_gear(cell)
    try:
        return float(cell.strip("~≈? ").replace(",", ".")) if gear is None else float(gear)
    except ValueError:
        return None


def _likely(values: list[float | None]) -> str:
    known = [value for value in values if value is not None]

    def within(bounds: tuple[float, float]) -> bool:
        return all(bounds[0] <= value <= bounds[1] for value in known)

    if within(_GEARS) and all(value.is_integer() for value in known):
        return "gear"
    return "rpm" if within(_RPMS) else "speed" if within(_SPEEDS) else "note"
