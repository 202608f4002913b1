"""What goes to a terminal: plain text that anybody can search, and emphasis where there is a terminal."""

from __future__ import annotations

import codecs
import json
import os
import re
import sys
from pathlib import Path
from typing import Any, Final, Literal, TextIO

from gearfit.foreign import safe_text

#: What stands for signs that the encoding of an output does not have; for any other, a question mark.
_INSTEAD: Final = {
    "\N{MINUS SIGN}": "-",
    "\N{EN DASH}": "-",
    "\N{HORIZONTAL ELLIPSIS}": "...",
    "\N{RIGHTWARDS ARROW}": "->",
}
#: Blanks that nobody can search for, and a joiner that nobody sees.
_BLANKS: Final = str.maketrans({"\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ", "\N{WORD JOINER}": None})
#: Codes of `emphasised`, and the signs that lay out lines: they stay.
_KEPT: Final = re.compile("(\x1b\\[(?:0|1|1;31)m|[\t\n\r])")
_CODES: Final = {"bold": "1", "bad": "1;31"}


def emphasised(text: str, style: Literal["bold", "bad"], stream: TextIO) -> str:
    """Return a text with colour or weight where `stream` is a terminal and neither `NO_COLOR` nor `TERM` forbids it.

    The words say everything that the colour says. `NO_COLOR` counts where it is set and not empty.
    """
    if not stream.isatty() or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return text
    return f"\x1b[{_CODES[style]}m{text}\x1b[0m"


class Plain:
    """A text stream that lets through plain text alone, whatever names of files and machines hold; None where closed.

    `exact` is the stream itself, for `print_json`.
    """

    def __init__(self, stream: TextIO | None) -> None:
        self.exact = stream or Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - closed output: for ever
        if stream is not None and hasattr(stream, "reconfigure"):
            codecs.register_error("gearfit", _instead)
            stream.reconfigure(errors="gearfit")

    def write(self, text: str) -> int:
        """Write a text, what steers a terminal shown as its code."""
        return self.exact.write(plain(text))

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - whatever a stream has
        """Give everything else of the stream."""
        return getattr(self.exact, name)


def print_json(text: str) -> None:
    """Print a JSON document as it is; in ASCII, with escapes, where the output does not have all of its signs."""
    stream = getattr(sys.stdout, "exact", sys.stdout)
    try:
        text.encode(stream.encoding or "utf-8")
    except UnicodeEncodeError:
        text = json.dumps(json.loads(text), indent=2) + "\n"
    stream.write(text)


def plain(text: str) -> str:
    """Return a text with blanks that can be searched for, and nothing in it that steers a terminal."""
    parts = _KEPT.split(text.translate(_BLANKS))
    return "".join(part if place % 2 else safe_text(part, len(part) * 6 + 1) for place, part in enumerate(parts))


def one_line(text: str) -> str:
    """Return a text on one line, whatever names it holds."""
    return plain(text).replace("\n", "\\x0a").replace("\r", "\\x0d")


def _instead(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(_INSTEAD.get(sign, "?") for sign in error.object[error.start : error.end]), error.end
