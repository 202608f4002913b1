"""What a file holds before anybody knows its format: bytes, and text where it is text."""

from __future__ import annotations

import codecs
import io
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np

from gearfit.errors import LogError
from gearfit.importers.common.quoting import quoted

SIZE_LIMIT_MB: Final = 200
#: Bytes of a file that are read at a time, and by which formats are recognised.
BLOCK_BYTES: Final = 1 << 19
_HEAD_BYTES: Final = 65_536
#: Lines in which the header of a text is looked for, and a row of units below.
FIRST_LINES: Final = 51
_BYTE_ORDER_MARKS: Final = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
#: Control characters that no text file holds (tab, line feed, vertical tab, form feed, carriage return do occur).
_CONTROLS: Final = bytes(sorted(set(range(32)) - set(b"\t\n\v\f\r\x1a")))
_CONTROL_LETTERS: Final = re.compile(f"[{_CONTROLS.decode()}]")
_TAB, _BLANK, _SUBSTITUTE = 9, 32, 0x1A
#: Letters of a text, from the first that is no blank, that tell what it is.
_START_LETTERS: Final = 1000


#: First bytes of Matroska, Ogg, ID3 tags, AIFF, ASF and MPEG program streams; second bytes of MPEG audio frames.
_MEDIA: Final = (b"\x1a\x45\xdf\xa3", b"OggS", b"ID3", b"FORM", b"\x30\x26\xb2\x75", b"\x00\x00\x01\xba")
_MPEG_AUDIO: Final = (b"\xfb", b"\xfa", b"\xf3", b"\xf2", b"\xf1", b"\xf9")


@dataclass(frozen=True, eq=False)
class Content:
    """One file as found. What is asked for is read when it is asked for, so that long files need not be held whole.

    Attributes
    ----------
    name : str
        Name for messages and for the sample table.
    path : pathlib.Path
        The file.
    head : bytes
        Its first 64 kB.
    """

    name: str
    path: Path
    head: bytes

    def blocks(self) -> Iterator[bytes]:
        """Yield the bytes of the file: its head, then half a megabyte at a time.

        Raises
        ------
        LogError
            The file cannot be read.
        """
        yield self.head
        if len(self.head) < _HEAD_BYTES:
            return
        try:
            with self.path.open("rb") as file:
                file.seek(len(self.head))
                while block := file.read(BLOCK_BYTES):
                    yield block
        except OSError as error:
            raise _unreadable(self.name, error) from error

    @cached_property
    def data(self) -> bytes:
        """The whole file."""
        return b"".join(self.blocks())

    @cached_property
    def encoding(self) -> str | None:
        """UTF-8, UTF-16 or else Latin-1; None where the file is no text."""
        encoding = _wide_or_marked(self.head)
        wide = encoding is not None and encoding.startswith("utf-16")
        if not wide:
            plain = True
            for block in self.blocks():
                if _holds_controls(block):
                    return None
                plain = plain and block.isascii()
            if plain:
                return "utf-8"
        found = encoding or "utf-8"
        decoder = codecs.getincrementaldecoder(found)()
        try:
            for block in self.blocks():
                decoder.decode(block)
            decoder.decode(b"", True)
        except UnicodeDecodeError:
            found = "latin-1"
        if wide and any(_CONTROL_LETTERS.search(piece) for piece in self._decoded(found)):
            return None
        return found

    @cached_property
    def text(self) -> str | None:
        """The file decoded, with line ends as line feeds; None where it is no text."""
        if self.encoding is None:
            return None
        return self.data.decode(self.encoding, "replace").replace("\r\n", "\n").replace("\r", "\n")

    def pieces(self) -> Iterator[str]:
        """Yield the text piece by piece; nothing where it is no text."""
        return iter(()) if self.encoding is None else self._decoded(self.encoding)

    @cached_property
    def first_lines(self) -> list[str]:
        """The first `FIRST_LINES` lines, or all there are; one empty line where the file is no text."""
        read, ends = [], 0
        for piece in self.pieces():
            read.append(piece)
            ends += piece.count("\n")
            if ends >= FIRST_LINES:
                break
        return "".join(read).split("\n", FIRST_LINES)[:FIRST_LINES]

    @cached_property
    def start(self) -> str:
        """First letters of the text from the first that is no blank; empty where the file is no text."""
        return next((bare[:_START_LETTERS] for piece in self.pieces() if (bare := piece.lstrip())), "")

    def _decoded(self, encoding: str) -> Iterator[str]:
        decoder = io.IncrementalNewlineDecoder(codecs.getincrementaldecoder(encoding)("replace"), translate=True)
        for block in self.blocks():
            yield decoder.decode(block)
        yield decoder.decode(b"", True)


def read_content(path: Path, name: str) -> Content:
    """Find a file and look at its beginning.

    Raises
    ------
    LogError
        The file is missing, unreadable, empty or larger than `SIZE_LIMIT_MB`.
    """
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise LogError(name, "this is a folder, a pipe or a device; allowed is a file", "Copy the log into a file")
        size_mb = path.stat().st_size / 1e6
        if size_mb > SIZE_LIMIT_MB:
            raise LogError(
                name,
                f"the file has {size_mb:.0f} MB; allowed is up to {SIZE_LIMIT_MB} MB",
                "Split it, one ride a file",
            )
        with path.open("rb") as file:
            content = Content(name, path, file.read(_HEAD_BYTES))
    except OSError as error:
        raise _unreadable(name, error) from error
    if not any(block.strip(b"\xef\xbb\xbf\xff\xfe \t\r\n\x00") for block in content.blocks()):
        raise LogError(name, "the file is empty", "Save the log or sheet again, or remove the file")
    return content


def _holds_controls(block: bytes) -> bool:
    """Whether bytes hold one of `_CONTROLS`: below the blank and not from tab to carriage return, nor a substitute."""
    letters = np.frombuffer(block, dtype=np.uint8)
    others = np.count_nonzero(letters < _BLANK) - np.count_nonzero(letters - np.uint8(_TAB) < len(b"\t\n\v\f\r"))
    return bool(others > 0 and others > np.count_nonzero(letters == _SUBSTITUTE))


def _unreadable(name: str, error: OSError) -> LogError:
    reason = error.strerror or "it cannot be opened"
    return LogError(name, f"the file cannot be read ({reason})", "Check its name and its permissions")


def _wide_or_marked(head: bytes) -> str | None:
    """Return the encoding that a byte order mark, or a zero in every second byte, tells; None without."""
    marked = next((name for mark, name in _BYTE_ORDER_MARKS if head.startswith(mark)), None)
    if marked is None and head[1:200:2].count(0) > head[:200:2].count(0) == 0:
        return "utf-16-le"
    if marked is None and head[:200:2].count(0) > head[1:200:2].count(0) == 0:
        return "utf-16-be"
    return marked


def what_it_is(content: Content) -> str:
    """Say in a few words what a file is that is no log."""
    if content.encoding is None:
        return "a binary file"
    if content.start[:1] in ("{", "["):
        return "a JSON document"
    if is_web_page(content.start):
        return "a web page"
    return f"text that begins {quoted(content.start.split(chr(10), 1)[0].strip())}"


def is_other_media(content: Content) -> bool:
    """Whether a file is a film, or a sound in another format than WAV or FLAC."""
    head = content.head
    if content.encoding is not None:
        return False
    riff = head[:4] == b"RIFF" and head[8:12] == b"AVI "
    return riff or head[4:8] == b"ftyp" or head.startswith(_MEDIA) or (head[:1] == b"\xff" and head[1:2] in _MPEG_AUDIO)


def is_web_page(start: str) -> bool:
    """Whether a text begins like a web page."""
    begin = start[:200].lower()
    return begin.startswith(("<!doctype html", "<html"))
