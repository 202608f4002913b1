"""Decides by content which format a file has, and reads it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final, NamedTuple

from gearfit.errors import LogError, OwnTableError
from gearfit.foreign import safe_text
from gearfit.importers.common.content import Content, is_other_media, read_content, what_it_is
from gearfit.importers.common.cross_checks import refuse_contradictions
from gearfit.importers.common.options import ReadOptions
from gearfit.importers.gpx.reader import is_gpx, read_gpx
from gearfit.importers.nmea import is_nmea, read_nmea
from gearfit.importers.sound import is_sound, read_sound
from gearfit.importers.text_file import is_delimited_text, read_delimited_text
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


def read_log(path: str | Path, name: str | None = None, options: ReadOptions | None = None) -> Recording:
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
    allowed = ", ".join(entry.label for entry in FORMATS[:-1]) + f" or {FORMATS[-1].label}"
    raise LogError(
        content.name,
        f"this is no log but {what_it_is(content)}; allowed is {allowed}",
        "Export the ride again, name the columns in the first line, or remove the file",
    )
