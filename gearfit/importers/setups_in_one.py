"""One sheet for all setups: columns that name a setup ("MPH before", "MPH after"), or a column that does."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from gearfit.errors import LogError
from gearfit.importers.common.content import read_content
from gearfit.importers.common.cross_checks import refuse_contradictions
from gearfit.importers.common.header_line import DELIMITERS, HEADER_WITHIN, cut
from gearfit.importers.common.options import ReadOptions
from gearfit.importers.common.quoting import quoted
from gearfit.importers.sheet.workbook import is_workbook, worksheets
from gearfit.importers.text_file import read_text
from gearfit.own_files import is_own_table
from gearfit.records.recording import Recording

#: Header of a column whose cells name the setup.
_SETUP_COLUMN: Final = "setup"


@dataclass(frozen=True)
class _Header:
    """The header line of such a sheet: index of the line, delimiter and cells."""

    index: int
    delimiter: str
    cells: tuple[str, ...]


def read_setups(path: Path, name: str, options: ReadOptions, setups: Sequence[str]) -> dict[str, Recording | LogError]:
    """Read a sheet that holds several setups.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    name : str
        Its name for messages and for the sample table.
    options : ReadOptions
        As for any file.
    setups : sequence of str
        Names of the setups.

    Returns
    -------
    dict of str to Recording or LogError
        What each setup has, or what is wrong with it; nothing where the file is no sheet that names setups so.
    """
    try:
        content = read_content(path, name)
        if is_workbook(content.head):
            return _of_workbook(name, worksheets(path, name), options, setups)
        if content.encoding is None or is_own_table(content.first_lines[0]):
            return {}
        if _find_header(content.first_lines, setups) is None:
            return {}
        return _of_text(name, content.text or "", options, setups)
    except LogError:
        return {}  # whoever reads the file as one of one setup says what is wrong with it


def _of_workbook(
    name: str, texts: dict[str, str], options: ReadOptions, setups: Sequence[str]
) -> dict[str, Recording | LogError]:
    """Read a spreadsheet with a worksheet named for each setup, or one worksheet that holds several."""
    by_name = {setup: texts[sheet] for setup in setups for sheet in texts if _names(sheet, setup)}
    if len(by_name) > 1:
        return {setup: _read(f"{name}, {setup}", text, options) for setup, text in by_name.items()}
    return next((found for text in texts.values() if (found := _of_text(name, text, options, setups))), {})


def _names(sheet: str, setup: str) -> bool:
    return sheet.strip().casefold() == setup.casefold()


def _of_text(name: str, text: str, options: ReadOptions, setups: Sequence[str]) -> dict[str, Recording | LogError]:
    header = _find_header(text.split("\n", HEADER_WITHIN)[:HEADER_WITHIN], setups)
    if header is None:
        return {}
    try:
        parts = _by_column(header, text, setups) or _by_row(name, header, text, setups)
    except LogError as error:
        return dict.fromkeys(setups, error)
    found = {setup: _read(name, part, options) for setup, part in parts.items()}
    logged = any(isinstance(part, Recording) and part.clock != "none" for part in found.values())
    return {} if logged else found


def _read(name: str, text: str, options: ReadOptions) -> Recording | LogError:
    try:
        return refuse_contradictions(read_text(name, text, options))
    except LogError as error:
        return error


def _find_header(lines: list[str], setups: Sequence[str]) -> _Header | None:
    """Return the first line that has columns of two setups, or a column that names the setup."""
    for index, line in enumerate(lines[:HEADER_WITHIN]):
        for delimiter in DELIMITERS:
            cells = tuple(cut(line, delimiter)) if delimiter in line else ()
            named = {found for cell in cells if (found := _setup_in(cell, setups)) is not None}
            if len(named) > 1 or any(cell.casefold() == _SETUP_COLUMN for cell in cells):
                return _Header(index, delimiter, cells)
    return None


def _setup_in(cell: str, setups: Sequence[str]) -> str | None:
    """Return the one setup that a header names beside something else."""
    named = [setup for setup in setups if _word(setup).search(cell) and _without(cell, setup)]
    return named[0] if len(named) == 1 else None


def _word(setup: str) -> re.Pattern[str]:
    return re.compile(rf"(?<![^\W_]){re.escape(setup)}(?![^\W_])", re.IGNORECASE)


def _without(cell: str, setup: str) -> str:
    """Return a header without the setup's name and the brackets around it."""
    return re.sub(r"[(\[]\s*[)\]]", " ", _word(setup).sub(" ", cell)).strip(" _-:,")


def _by_column(header: _Header, text: str, setups: Sequence[str]) -> dict[str, str]:
    """Write the sheet once for each setup: its own columns and those that name none."""
    named = [_setup_in(cell, setups) for cell in header.cells]
    if len(set(named) - {None}) < 2:
        return {}
    lines = text.split("\n")
    parts = {}
    for setup in (setup for setup in setups if setup in named):
        cells = [
            cell if other is None else _without(cell, setup) if other == setup else ""
            for cell, other in zip(header.cells, named, strict=True)
        ]
        lines[header.index] = _line(cells, header.delimiter)
        parts[setup] = "\n".join(lines)
    return parts


def _by_row(name: str, header: _Header, text: str, setups: Sequence[str]) -> dict[str, str]:
    """Write the sheet once for each setup that the rows name; blank lines keep the numbers of the others.

    Raises
    ------
    LogError
        Some rows name a setup and others do not.
    """
    place = [cell.casefold() for cell in header.cells].index(_SETUP_COLUMN)
    top, rows = text.split("\n")[: header.index + 1], text.split("\n")[header.index + 1 :]
    top[header.index] = _line(["" if n == place else cell for n, cell in enumerate(header.cells)], header.delimiter)
    known = {setup.casefold(): setup for setup in setups}
    parts: dict[str, list[str]] = {}
    strange: list[tuple[int, str]] = []
    for number, row in enumerate(rows, header.index + 2):
        cells = cut(row, header.delimiter)
        if not any(cells) or row.lstrip().startswith("#"):
            continue
        said = cells[place] if place < len(cells) else ""
        if said.casefold() not in known:
            strange.append((number, said))
            continue
        cells[place] = ""
        part = parts.setdefault(known[said.casefold()], [""] * len(rows))
        part[number - header.index - 2] = _line(cells, header.delimiter)
    if parts and strange:
        raise LogError(
            f"{name}, line {strange[0][0]}, column {header.cells[place]!r}",
            f"{quoted(strange[0][1])} is no setup; the setups are {', '.join(setups)}",
            "Name the setup in each row",
        )
    return {setup: "\n".join([*top, *parts[setup]]) for setup in setups if setup in parts}


def _line(cells: Sequence[str], delimiter: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(cells)
    return out.getvalue()
