"""Delimited text: decides from the columns what kind of recording it is."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from gearfit.errors import LogError, NoRowsError
from gearfit.importers.common.content import Content
from gearfit.importers.common.header_line import find_header
from gearfit.importers.common.options import ReadOptions
from gearfit.importers.common.table import Table, read_table
from gearfit.importers.nmea import is_nmea
from gearfit.importers.sheet.as_written import as_sheet
from gearfit.importers.sheet.hand_cells import with_bare_cells
from gearfit.importers.sheet.odometer import read_odometer
from gearfit.importers.sheet.reader import read_sheet
from gearfit.importers.sheet.runs import read_runs
from gearfit.importers.text.columns import Choice
from gearfit.importers.text.log import read_text_log
from gearfit.importers.text.obd import with_obd_decoded
from gearfit.importers.text.one_channel_a_row import with_channels_as_columns
from gearfit.importers.text.plain_log import read_plain_log
from gearfit.importers.text.sheet_times import noted_times
from gearfit.importers.text.stated_units import with_known_units
from gearfit.importers.text.time_columns import with_one_time_column
from gearfit.records.recording import Recording

#: Files up to this may be notes, bytes.
_BLOCK: Final = 60_000


def is_delimited_text(content: Content, options: ReadOptions) -> bool:
    """Whether a file is text with a header line that names two channels."""
    if content.start[:1] in ("", "<", "{", "[") or is_nmea(content, options) or content.encoding is None:
        return False
    if find_header(content.first_lines, options.columns) is not None:
        return True
    return len(content.head) < _BLOCK and as_sheet(content.name, content.text or "", options.columns) is not None


def read_delimited_text(content: Content, options: ReadOptions) -> Recording:
    """Read a log, a sheet of samples, a held-rpm sheet or a sheet of timed runs.

    Raises
    ------
    LogError
        The columns make none of these, or cannot be read.
    NoRowsError
        There is a header and no rows, or a prepared sheet of runs has no times yet.
    UnitError
        The unit of a needed column is not stated.
    """
    return read_plain_log(content, options) or read_with_care(content, options)


def read_with_care(content: Content, options: ReadOptions) -> Recording:
    """Read cells as text, so that each can be told from what it should be.

    Raises
    ------
    LogError
        As `read_delimited_text`.
    """
    return read_text(content.name, content.text or "", options)


def read_text(name: str, text: str, options: ReadOptions) -> Recording:
    """Read a delimited text that need not be a file of its own.

    Raises
    ------
    LogError
        As `read_delimited_text`.
    """
    table = with_one_time_column(with_known_units(_table(name, text, options)))
    table = with_channels_as_columns(with_obd_decoded(table), options.columns)
    choice = Choice(with_bare_cells(with_known_units(table)))
    _refuse_unfilled(choice)
    speed = "speed_mps" in choice or "indicated_mps" in choice
    rpm = "engine_rpm" in choice
    if "from_mps" in choice and "to_mps" in choice and "time_s" in choice:
        return read_runs(choice)
    if "odometer_start_m" in choice and "odometer_end_m" in choice:
        return read_odometer(choice)
    if "time_s" in choice and (speed or rpm):
        times = noted_times(choice) if "stated_gear" in choice and not speed else None
        return read_text_log(choice) if times is None else read_sheet(choice, "held rpm", times)
    if rpm and speed:
        return read_sheet(choice, "samples")
    if rpm and "stated_gear" in choice:
        return read_sheet(choice, "held rpm")
    if "indicated_mps" in choice:
        return read_sheet(choice, "samples")
    raise LogError(
        name,
        f"the filled columns ({choice.headers}) make no log; allowed is time with speed or rpm, rpm with speed, gear "
        "with rpm, indicated speed with speed, gear or repeat, from, to and time_s, or odometer_start and odometer_end",
        "Add or fill in the missing column",
    )


def _table(name: str, text: str, options: ReadOptions) -> Table:
    """Cut a text into cells, once it has the form of a sheet; lines keep the numbers that they have in the file."""
    written = as_sheet(name, text, options.columns)
    if written is None:
        return read_table(name, text, options.columns)
    table = read_table(name, written.text, options.columns)
    return replace(table, lines=np.array(written.lines, dtype=np.int64)[table.lines - 1])


def _refuse_unfilled(choice: Choice) -> None:
    """Refuse a prepared sheet of runs whose times nobody has filled in yet."""
    headed = any(meaning is not None and meaning.channel == "time_s" for meaning in choice.table.meanings)
    if "from_mps" in choice and "to_mps" in choice and headed and "time_s" not in choice:
        raise NoRowsError(choice.table.name, "the column of times is still empty", "Fill it in, or remove the file")
