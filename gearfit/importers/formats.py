"""Decides by content which format a file has, and reads it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final, NamedTuple

from gearfit.errors import LogError
from gearfit.importers.content import Content, read_content, what_it_is
from gearfit.importers.gpx import is_gpx, read_gpx
from gearfit.importers.text import is_delimited_text, read_delimited_text
from gearfit.recording import Recording


class Format(NamedTuple):
    """One format: what people call it, who recognises it and who reads it."""

    label: str
    recognise: Callable[[Content], bool]
    read: Callable[[Content], Recording]


FORMATS: Final = (
    Format("a GPX track", is_gpx, read_gpx),
    Format(
        "delimited text with a header such as time_s, speed_kmh, rpm, gear, from_kmh, to_kmh or indicated_kmh",
        is_delimited_text,
        read_delimited_text,
    ),
)


def read_log(path: Path, name: str | None = None) -> Recording:
    """Read one log or sheet, whatever its name or ending.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    name : str, optional
        Name for messages and for the sample table; the file's own name where not given.

    Returns
    -------
    Recording
        The file, read.

    Raises
    ------
    LogError
        The file is no log, or a log that cannot be read. The message says where, what was found and what to do.
    NoRowsError
        The file has a header and no rows.
    UnitError
        The unit of a needed column is not stated.
    """
    content = read_content(path, name or path.name)
    fitting = [entry for entry in FORMATS if entry.recognise(content)]
    if len(fitting) == 1:
        return fitting[0].read(content)
    allowed = " or ".join(entry.label for entry in FORMATS)
    raise LogError(
        content.name,
        f"this is no log but {what_it_is(content)}; allowed is {allowed}",
        "Export the ride again, name the columns in the first line, or remove the file",
    )
