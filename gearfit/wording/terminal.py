"""Emphasis on a terminal, and nothing but text anywhere else."""

from __future__ import annotations

import os
from typing import Final, Literal, TextIO

_CODES: Final = {"bold": "1", "bad": "1;31"}


def emphasised(text: str, style: Literal["bold", "bad"], stream: TextIO) -> str:
    """Return a text with colour or weight where `stream` is a terminal and neither `NO_COLOR` nor `TERM` forbids it.

    The words say everything that the colour says. `NO_COLOR` counts where it is set and not empty.
    """
    if not stream.isatty() or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return text
    return f"\x1b[{_CODES[style]}m{text}\x1b[0m"
