"""Texts that others wrote, as they are shown: names of machines, files and folders, cells and heads of columns."""

from __future__ import annotations

import re
from typing import Final

#: Characters of a foreign text that are shown at the most.
LONGEST: Final = 200
#: What steers a terminal, breaks a line, turns a line round, or is no character at all (U+DC80 to U+DCFF stand for the
#: bytes of a file name that is not UTF-8).
_UNSHOWN: Final = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060\u2066-\u2069\ufeff\ud800-\udfff\ufff9-\ufffb]"
)


def safe_text(text: str, longest: int = LONGEST) -> str:
    r"""Return a foreign text on one line, what nobody would see as its code (\x1b, \u202e), shortened at the end.

    Letters of every script, joined emoji and wide blanks stay as they are.
    """
    shown = _UNSHOWN.sub(_code, text[: longest + 1])
    return shown if len(shown) <= longest else f"{shown[: longest - 3]}..."


def _code(sign: re.Match[str]) -> str:
    number = ord(sign[0])
    byte = number - 0xDC00 if 0xDC80 <= number <= 0xDCFF else number
    return f"\\x{byte:02x}" if byte < 0x100 else f"\\u{byte:04x}"
