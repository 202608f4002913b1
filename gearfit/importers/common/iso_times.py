"""Times of ISO 8601 in one of the usual forms, many at once, straight from the bytes of a file."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Places = NDArray[np.int64]

#: Where in YYYY-MM-DDTHH:MM:SS digits stand, and what stands between them.
_DIGITS: Final = np.array([0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15, 17, 18])
_MARKS: Final = {4: b"-", 7: b"-", 10: b"T", 13: b":", 16: b":"}
_LENGTH: Final = 19
#: Digits of a second that are read.
_DECIMALS: Final = 6
#: Seconds that hours, minutes and seconds stand for, digit by digit.
_SECONDS: Final = np.array([36_000, 3_600, 600, 60, 10, 1])
_EARLIEST, _LATEST = (np.datetime64(f"{year}-01-01", "D") for year in (1970, 2262))


def utc_microseconds(data: Bytes, starts: Places, ends: Places) -> Places | None:
    """Read times of the form 2024-05-01T12:00:00Z, with up to six decimals of a second.

    Parameters
    ----------
    data : numpy.ndarray of uint8
        The bytes of a file.
    starts, ends : numpy.ndarray
        Where each time begins and ends.

    Returns
    -------
    numpy.ndarray of int64 or None
        Microseconds since 1970; None where any has another form or is no time.
    """
    widths = ends - starts
    found = np.empty(starts.size, dtype=np.int64)
    for width in np.unique(widths):
        rows = widths == width
        read = _of_one_width(data, starts[rows], int(width))
        if read is None:
            return None
        found[rows] = read
    return found


def _of_one_width(data: Bytes, starts: Places, width: int) -> Places | None:
    decimals = max(0, width - _LENGTH - 2)
    if width not in (_LENGTH + 1, _LENGTH + 2 + decimals) or decimals > _DECIMALS or width == _LENGTH + 2:
        return None
    letters = data[starts[:, None] + np.arange(width)]
    marks = _MARKS | {width - 1: b"Z"} | ({_LENGTH: b"."} if decimals else {})
    if any((letters[:, place] != ord(mark)).any() for place, mark in marks.items()):
        return None
    digits = letters[:, np.append(_DIGITS, np.arange(_LENGTH + 1, _LENGTH + 1 + decimals))] - np.uint8(ord("0"))
    if (digits > 9).any():
        return None
    clock = digits[:, 8:14].astype(np.int64)
    if (clock[:, ::2] * 10 + clock[:, 1::2] >= (24, 60, 60)).any():
        return None
    try:
        days = np.ascontiguousarray(letters[:, :10]).view("S10").ravel().astype("datetime64[D]")
    except ValueError:
        return None
    if (days < _EARLIEST).any() or (days >= _LATEST).any():
        return None
    parts = digits[:, 14:].astype(np.int64) @ 10 ** np.arange(_DECIMALS - 1, _DECIMALS - 1 - decimals, -1)
    whole = days.astype(np.int64) * 86_400 + clock @ _SECONDS
    result: Places = whole * 1_000_000 + parts
    return result
