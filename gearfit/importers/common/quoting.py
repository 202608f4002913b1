"""Pieces of a file in messages: short, and on one line."""

from __future__ import annotations

from collections.abc import Sequence

_MOST_LETTERS = 60
_MOST_ITEMS = 6


def quoted(text: str) -> str:
    """Return a text in quotation marks, cut off where it is long, control characters spelt out."""
    return repr(shortened(text))


def shortened(text: str) -> str:
    """Return a text, cut off where it is long."""
    return text if len(text) <= _MOST_LETTERS else f"{text[: _MOST_LETTERS - 3]}..."


def listed(texts: Sequence[str]) -> str:
    """Join texts by commas, the first few of many."""
    more = len(texts) - _MOST_ITEMS
    return ", ".join(texts[:_MOST_ITEMS]) + (f" and {more} more" if more > 0 else "")
