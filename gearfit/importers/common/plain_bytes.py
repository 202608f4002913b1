"""Whether the rows of a delimited text hold short plain numbers and nothing else, by their bytes alone."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]

#: Letters of a cell up to which it has so few digits that the library reads the nearest floating point number.
MOST_LETTERS: Final = 15
_LINE_FEED, _CARRIAGE_RETURN = 10, 13
#: Plus, comma, minus, point, slash and digits follow each other in ASCII and are told from others in one go.
_FIRST, _LAST = ord("+"), ord("9")


def count_delimiters(blocks: Iterable[bytes], delimiter: str) -> int | None:
    """Count the delimiters between plain numbers.

    Parameters
    ----------
    blocks : iterable of bytes
        The rows, cut anywhere.
    delimiter : str
        What stands between cells.

    Returns
    -------
    int or None
        None where a byte is none of digits, signs, points, commas, slashes, line ends and delimiters, or where a cell
        is longer than `MOST_LETTERS`. The reader of numbers then finds a sign, point, comma or slash out of place.
    """
    between = ord(delimiter)
    count, last = 0, b""
    for block in blocks:
        letters = np.frombuffer(block, dtype=np.uint8)
        delimiters = int(np.count_nonzero(letters == between))
        if _count_plain(letters) + (0 if _FIRST <= between <= _LAST else delimiters) < letters.size:
            return None
        if _has_long_cell(last + block, between):
            return None
        count += delimiters
        last = (last + block)[-MOST_LETTERS:]
    return count


def _count_plain(letters: Bytes) -> int:
    count = np.count_nonzero(letters - np.uint8(_FIRST) <= _LAST - _FIRST) + np.count_nonzero(letters == _LINE_FEED)
    if count < letters.size:
        count += np.count_nonzero(letters == _CARRIAGE_RETURN)
    return int(count)


def _has_long_cell(block: bytes, between: int) -> bool:
    """Whether a stretch of one letter more than `MOST_LETTERS` holds no end of a cell."""
    letters = np.frombuffer(block, dtype=np.uint8)
    ends = (letters == between) | (letters == _LINE_FEED) | (letters == _CARRIAGE_RETURN)
    for width in (1, 2, 4, 8):
        ends = ends[:-width] | ends[width:]
    return not ends.all()
