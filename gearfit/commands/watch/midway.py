"""Whether a file stops where none of its kind ends: while it is being copied, or where its recorder lost power."""

from __future__ import annotations

import re
import struct
from pathlib import Path
from typing import Final

#: Bytes at the end of a file that are looked at.
_TAIL_BYTES: Final = 8192
#: Lines of a log before the last one, to know how long their last cells are.
_FEW_LINES: Final = 20
_DELIMITERS: Final = re.compile(rb"[\t;|,]")
_END_OF_TRACK: Final = re.compile(rb"</(?:\w+:)?gpx\s*>")
_WHOLE_SENTENCE: Final = re.compile(rb"[$!].*\*[0-9A-Fa-f]{2}\s*")
#: Sizes that recorders write which do not know how long a sound will be.
_NOT_KNOWN: Final = (0, 0xFFFFFFFF)


def stops_midway(path: Path) -> bool:
    """Tell whether a file is likely to be only a part of what it will be.

    A GPX track lacks its end, a WAV file is shorter than it states, or the last line of a text has no end and is
    shorter than those before it. What is cut between two lines cannot be told from a whole file.
    """
    try:
        if not path.is_file():
            return False
        with path.open("rb") as file:
            head = file.read(512)
            size = file.seek(0, 2)
            file.seek(max(0, size - _TAIL_BYTES))
            tail = file.read()
    except OSError:
        return False
    if head[:4] in (b"RIFF", b"RIFX"):
        return _is_short(head, size)
    plain = tail.replace(b"\0", b"")  # UTF-16 of signs in ASCII
    if head.replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n").startswith(b"<"):
        return _END_OF_TRACK.search(plain) is None
    return _has_open_line(plain)


def _is_short(head: bytes, size: int) -> bool:
    if len(head) < 12:
        return True
    (stated,) = struct.unpack((">" if head.startswith(b"RIFX") else "<") + "I", head[4:8])
    return stated not in _NOT_KNOWN and size < stated + 8


def _has_open_line(tail: bytes) -> bool:
    lines = [line for line in tail.splitlines() if line.strip()]
    if len(lines) < 2 or tail.endswith((b"\n", b"\r")):
        return False
    *before, last = lines
    if last[:1] in (b"$", b"!"):
        return _WHOLE_SENTENCE.fullmatch(last) is None
    if len(_DELIMITERS.findall(last)) < len(_DELIMITERS.findall(before[-1])):
        return True
    ends = [len(_DELIMITERS.split(line)[-1]) for line in before[-_FEW_LINES:]]
    return len(ends) == _FEW_LINES and len(_DELIMITERS.split(last)[-1]) < min(ends)
