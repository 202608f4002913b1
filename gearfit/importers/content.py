"""What a file holds before anybody knows its format: bytes, and text where it is text."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from gearfit.errors import LogError
from gearfit.importers.quoting import quoted

SIZE_LIMIT_MB: Final = 200
_BYTE_ORDER_MARKS: Final = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
#: Control characters that no text file holds (tab, line feed, vertical tab, form feed, carriage return do occur).
_CONTROLS: Final = bytes(sorted(set(range(32)) - set(b"\t\n\v\f\r\x1a")))
_CONTROL_LETTERS: Final = re.compile(f"[{_CONTROLS.decode()}]")


#: First bytes of Matroska, Ogg, ID3 tags, AIFF, ASF and MPEG program streams; second bytes of MPEG audio frames.
_MEDIA: Final = (b"\x1a\x45\xdf\xa3", b"OggS", b"ID3", b"FORM", b"\x30\x26\xb2\x75", b"\x00\x00\x01\xba")
_MPEG_AUDIO: Final = (b"\xfb", b"\xfa", b"\xf3", b"\xf2", b"\xf1", b"\xf9")


@dataclass(frozen=True)
class Content:
    """One file as found.

    Attributes
    ----------
    name : str
        Name for messages and for the sample table.
    data : bytes
        The whole file.
    text : str or None
        The file decoded, with line ends as line feeds; None where it is no text.
    """

    name: str
    data: bytes
    text: str | None


def read_content(path: Path, name: str) -> Content:
    """Read a file.

    Raises
    ------
    LogError
        The file is missing, unreadable, empty or larger than `SIZE_LIMIT_MB`.
    """
    try:
        size_mb = path.stat().st_size / 1e6
        if size_mb > SIZE_LIMIT_MB:
            raise LogError(
                name,
                f"the file has {size_mb:.0f} MB; allowed is up to {SIZE_LIMIT_MB} MB",
                "Split it, one ride a file",
            )
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it cannot be opened"
        raise LogError(name, f"the file cannot be read ({reason})", "Check its name and its permissions") from error
    if not data.strip(b"\xef\xbb\xbf\xff\xfe \t\r\n\x00"):
        raise LogError(name, "the file is empty", "Save the log or sheet again, or remove the file")
    return Content(name, data, decode(data))


def decode(data: bytes) -> str | None:
    """Decode bytes as UTF-8, UTF-16 or else Latin-1; None where the result is no text."""
    encoding = next((name for mark, name in _BYTE_ORDER_MARKS if data.startswith(mark)), None)
    if encoding is None and data[1:200:2].count(0) > data[:200:2].count(0) == 0:
        encoding = "utf-16-le"
    elif encoding is None and data[:200:2].count(0) > data[1:200:2].count(0) == 0:
        encoding = "utf-16-be"
    wide = encoding is not None and encoding.startswith("utf-16")
    if not wide and len(data.translate(None, _CONTROLS)) < len(data):
        return None
    try:
        text = data.decode(encoding or "utf-8")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    if wide and _CONTROL_LETTERS.search(text):
        return None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def what_it_is(content: Content) -> str:
    """Say in a few words what a file is that is no log."""
    if content.text is None:
        return "a binary file"
    start = content.text.lstrip()
    if start[:1] in ("{", "["):
        return "a JSON document"
    if is_web_page(start):
        return "a web page"
    return f"text that begins {quoted(start.split(chr(10), 1)[0].strip())}"


def is_other_media(content: Content) -> bool:
    """Whether a file is a film, or a sound in another format than WAV or FLAC."""
    data = content.data
    if content.text is not None:
        return False
    riff = data[:4] == b"RIFF" and data[8:12] == b"AVI "
    return riff or data[4:8] == b"ftyp" or data.startswith(_MEDIA) or (data[:1] == b"\xff" and data[1:2] in _MPEG_AUDIO)


def is_web_page(start: str) -> bool:
    """Whether a text begins like a web page."""
    begin = start[:200].lower()
    return begin.startswith(("<!doctype html", "<html"))
