"""Decides by content which format a file has, and reads it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final, NamedTuple

from gearfit.errors import LogError, NoRowsError, OwnTableError
from gearfit.foreign import safe_text
from gearfit.importers.common.content import Content, is_other_media, read_content, what_it_is
from gearfit.importers.common.cross_checks import refuse_contradictions
from gearfit.importers.common.options import ReadOptions
from gearfit.importers.common.quoting import quoted
from gearfit.importers.gpx.reader import is_gpx, read_gpx
from gearfit.importers.nmea import is_nmea, read_nmea
from gearfit.importers.sheet.workbook import is_workbook, worksheets
from gearfit.importers.sound import is_sound, read_sound
from gearfit.importers.text_file import is_delimited_text, read_delimited_text, read_text
from gearfit.own_files import is_own_table
from gearfit.records.recording import Recording


class Format(NamedTuple):
    """One format: what people call it, who recognises it and who reads it."""

    label: str
    recognise: Callable[[Content, ReadOptions], bool]
    read: Callable[[Content, ReadOptions], Recording]


FORMATS: Final = (
    Format("a GPX track", is_gpx, read_gpx),
    Format("NMEA sentences of a satellite receiver", is_nmea, read_nmea),
    Format("a WAV or FLAC recording of the engine's sound", is_sound, read_sound),
    Format(
        "delimited text with a header such as time_s, speed_kmh, rpm, gear, from_kmh, to_kmh or indicated_kmh",
        is_delimited_text,
        read_delimited_text,
    ),
)


def sheets_of(path: Path) -> list[str]:
    """Return the names of the worksheets of a spreadsheet that hold anything, or "" alone for any other file.

    Raises
    ------
    LogError
        It begins as a spreadsheet does and is none that can be read.
    """
    content = read_content(path, safe_text(path.name))
    return list(worksheets(path, content.name)) or [""] if is_workbook(content.head) else [""]


def read_log(
    path: str | Path, name: str | None = None, options: ReadOptions | None = None, worksheet: str = ""
) -> Recording:
    """Read one log or sheet, whatever its name or ending.

    Parameters
    ----------
    path : str or pathlib.Path
        The file.
    name : str, optional
        Name for messages and for the sample table; the file's own name where not given.
    options : ReadOptions, optional
        What the file itself does not say: whether bad checksums are accepted, the rider's own names of columns, the
        engine of a sound recording.
    worksheet : str, optional
        Of a spreadsheet; needed where several of its worksheets hold something.

    Returns
    -------
    Recording
        The file, read.

    Raises
    ------
    LogError
        The file is no log, or a log that cannot be read. The message says where, what was found and what to do.
    OwnTableError
        The file is a table that gearfit wrote.
    NoRowsError
        The file has a header and no rows.
    UnitError
        The unit of a needed column is not stated or not known, or contradicts another channel of the file.
    """
    path = Path(path)
    content = read_content(path, safe_text(name or path.name))
    options = options or ReadOptions()
    if is_workbook(content.head):
        return refuse_contradictions(_read_worksheet(path, content.name, options, worksheet))
    if content.encoding is not None and is_own_table(content.first_lines[0]):
        raise OwnTableError(content.name, "written by gearfit, not read as a ride", "Remove it from the rides")
    fitting = [entry for entry in FORMATS if entry.recognise(content, options)]
    if len(fitting) == 1:
        return refuse_contradictions(fitting[0].read(content, options))
    if is_other_media(content):
        raise LogError(
            content.name,
            "this is a film or a sound in a compressed format; allowed is the sound as WAV or FLAC",
            "Take the sound track out, for example with: ffmpeg -i FILE -vn -ac 1 -c:a pcm_s16le engine.wav",
        )
    if content.encoding is not None and content.start[:1] not in ("<", "{", "["):
        raise LogError(
            content.name,
            f"no line names the columns, and the text begins {quoted(content.start.split(chr(10))[0].strip())}",
            "Write gear,rpm,speed_kmh (or speed_mph) above the readings, from_kmh,to_kmh,time_s above timed runs, or a "
            "line such as 3rd 5000 rpm 50 mph for each; export a log again with its header",
        )
    allowed = ", ".join(entry.label for entry in FORMATS[:-1]) + f" or {FORMATS[-1].label}"
    raise LogError(
        content.name,
        f"this is no log but {what_it_is(content)}; allowed is {allowed}",
        "Export the ride again, name the columns in the first line, or remove the file",
    )


def _read_worksheet(path: Path, name: str, options: ReadOptions, worksheet: str) -> Recording:
    found = worksheets(path, name)
    if not found:
        raise NoRowsError(name, "the spreadsheet is empty", "Fill it in, or remove the file")
    if not worksheet and len(found) > 1:
        raise LogError(
            name, f"it has {len(found)} worksheets ({', '.join(found)}); one is read at a time", "Name the worksheet"
        )
    which = worksheet or next(iter(found))
    if which not in found:
        raise LogError(name, f"it has no worksheet {quoted(which)} with anything in it", "Check the name")
    text = found[which]
    if is_own_table(text.split("\n", 1)[0].replace("\t", ",")):
        raise OwnTableError(name, "written by gearfit, not read as a ride", "Remove it from the rides")
    return read_text(name, text, options)
