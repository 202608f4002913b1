"""Notes as people write them, brought into the form of a sheet: one header, one delimiter, a line for each row.

Read are lines of a note ("3rd 5000 rpm 50 mph", "60-100 km/h 6.4 s"), columns parted by blanks, and columns of times
that are headed by their span ("0-60 mph"). What has no header is not guessed at: the message shows the file's own first
line with one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from gearfit.errors import LogError
from gearfit.importers.common.gear_words import read_gear
from gearfit.importers.common.header_line import DELIMITERS, cut, find_header
from gearfit.importers.common.quoting import quoted
from gearfit.importers.common.unit_spellings import RPM_SPELLINGS
from gearfit.machine.bike import ColumnNames

#: Longer texts were not written by hand.
_LONGEST: Final = 60_000
_NUMBER: Final = r"[~≈]?\s*\d+(?:[.,]\d+)?\s*\??"
_SPEED_UNIT: Final = r"(?:km\s?/?\s?h|kph|mph|mi/h)"
_SPEED: Final = re.compile(rf"(?<![\d.,]){_NUMBER}\s*{_SPEED_UNIT}(?![a-z/])", re.IGNORECASE)
_TURNS: Final = "|".join(re.escape(spelling) for spelling in sorted(RPM_SPELLINGS, key=len, reverse=True))
_RPM: Final = re.compile(rf"(?<![\d.,])({_NUMBER})\s*(?:{_TURNS}|r\.p\.m\.|revs)(?![a-z])", re.IGNORECASE)
_SPAN: Final = re.compile(
    rf"(?<![\d.,])(\d+(?:[.,]\d+)?)\s*(?:-|\N{{EN DASH}}|to)\s*(\d+(?:[.,]\d+)?)\s*({_SPEED_UNIT})?(?![\w/])",
    re.IGNORECASE,
)
_SECONDS: Final = re.compile(r"(?<![\d.,])(\d+(?:[.,]\d+)?)\s*(?:s|sec|secs|seconds)(?![a-z/])", re.IGNORECASE)
_WITH_SECONDS: Final = re.compile(r"\s*[,(\[]?\s*(?:s|sec|seconds)\s*[)\]]?$")
#: Columns that hold the two speeds of a dash and a receiver where no header states their unit.
_DASH: Final = re.compile(r"(?:speedo(?:meter)?|dash|tacho|indicated|compteur|teller)", re.IGNORECASE)
_TRUE: Final = re.compile(r"(?:gps|satnav|sat|satellite|navi|true|actual|real)", re.IGNORECASE)
#: Lines of a note that have to say the same things for it to be a sheet.
_FEWEST_LINES: Final = 2
_MOST_STRANGE: Final = 0.5
#: Values of a column without a header that engine speeds, gears and speeds can have.
_RPMS, _GEARS, _SPEEDS = (700.0, 20_000.0), (1.0, 8.0), (3.0, 330.0)


@dataclass(frozen=True)
class Written:
    """The text as a sheet, and the line of the file (from 1) that each of its lines comes from."""

    text: str
    lines: tuple[int, ...]


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
    forms: tuple[Callable[[str, list[tuple[int, str]]], Written | None], ...] = (
        _readings,
        _runs,
        _span_columns,
        _dash_without_unit,
        lambda _, rows: _blanks(rows, names),
        _without_header,
    )
    return next((found for form in forms if (found := form(name, lines)) is not None), None)


def _of(head: str, rows: Iterable[tuple[int, Iterable[str]]]) -> Written:
    found = [(number, "\t".join(cells)) for number, cells in rows]
    return Written("\n".join([head, *(row for _, row in found)]) + "\n", (1, *(number for number, _ in found)))


def _enough(found: list[object], lines: list[tuple[int, str]]) -> bool:
    return len(found) >= _FEWEST_LINES and len(found) >= (1 - _MOST_STRANGE) * len(lines)


def _readings(_: str, lines: list[tuple[int, str]]) -> Written | None:
    """Read lines that each say a gear, an engine speed and a speed, in whatever order."""
    rows = []
    for number, line in lines:
        speeds, rpms = _SPEED.findall(line), _RPM.findall(line)
        rest = _RPM.sub(" ", _SPEED.sub(" ", line))
        if len(speeds) == 1 and len(rpms) == 1:
            rows.append((number, (_gear_in(rest), rpms[0], " ".join(speeds[0].split()))))
    return _of("gear\trpm\tspeed", rows) if _enough(list(rows), lines) else None


def _gear_in(text: str) -> str:
    """Return what the rest of a line says of the gear, also where that cannot be read; "" where it says nothing."""
    bare = re.sub(r"\b(?:at|bei|is|in|a|à|en|held|and)\b|[@:=,;|()\-]", " ", text, flags=re.IGNORECASE)
    words = bare.split()
    for count in (2, 1):
        for i in range(len(words) - count + 1):
            candidate = " ".join(words[i : i + count])
            if read_gear(candidate) is not None:
                return candidate
    return " ".join(words)


def _runs(_: str, lines: list[tuple[int, str]]) -> Written | None:
    """Read lines that each say a span with its unit, and seconds."""
    rows, units = [], set()
    for number, line in lines:
        spans, seconds = _SPAN.findall(line), _SECONDS.findall(_SPAN.sub(" ", line))
        if len(spans) == 1 and len(seconds) == 1 and spans[0][2]:
            rows.append((number, (*spans[0][:2], seconds[0])))
            units.add(_unit(spans[0][2]))
    if len(units) != 1 or not _enough(list(rows), lines):
        return None
    (unit,) = units
    return _of(f"from_{unit}\tto_{unit}\ttime_s", rows)


def _dash_without_unit(name: str, lines: list[tuple[int, str]]) -> None:
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


def _unit(text: str) -> str:
    return "mph" if text.lower().startswith("m") else "kmh"


def _span_columns(name: str, lines: list[tuple[int, str]]) -> Written | None:
    """Read a table whose columns are spans: each cell below is a run.

    Raises
    ------
    LogError
        No span states its unit, or they state different ones.
    """
    if len(lines) < _FEWEST_LINES:
        return None
    number, head = lines[0]
    delimiter = max(DELIMITERS, key=head.count)
    cells = [
        _SPAN.fullmatch(re.sub(r"\s*[,(\[]?\s*(?:s|sec|seconds)\s*[)\]]?$", "", cell)) for cell in cut(head, delimiter)
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
    units = {_unit(span[3]) for span in spans.values()}
    if len(units) == 1:
        bare = [(below, (low.split()[0], high.split()[0], value)) for below, (low, high, value) in rows]
        return _of("from_{0}\tto_{0}\ttime_s".format(*units), bare)
    metric = [(below, (_as_kmh(low), _as_kmh(high), value)) for below, (low, high, value) in rows]
    return _of("from_kmh\tto_kmh\ttime_s", metric)


def _as_kmh(speed: str) -> str:
    number, unit = speed.split(maxsplit=1)
    value = float(number.replace(",", "."))
    return f"{value * 1.609344:.6f}" if _unit(unit) == "mph" else f"{value:g}"


def _blanks(lines: list[tuple[int, str]], names: ColumnNames) -> Written | None:
    """Read columns parted by blanks below a header: by two or more where headers have blanks in them, else by one."""
    for gap in (r"\s{2,}", r"\s+"):
        for place, (_, line) in enumerate(lines[:-1]):
            head = "\t".join(re.split(gap, line))
            if find_header([head], names) is None:
                continue
            width = head.count("\t") + 1
            rows = [(number, re.split(gap, below)) for number, below in lines[place + 1 :]]
            if all(len(cells) <= width for _, cells in rows) and any(len(cells) == width for _, cells in rows):
                return _of(head, rows)
    return None


def _without_header(name: str, lines: list[tuple[int, str]]) -> None:
    """Refuse a table of numbers without a header in words that a person can follow.

    Raises
    ------
    LogError
        It is one; its columns are named as far as their values tell.
    """
    if len(lines) < _FEWEST_LINES:
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
