"""Finds the sentences in the bytes of a file and checks them, all at once.

A sentence is `$ttsss,field,field*hh`: two letters of the talker, three of the sentence, fields, and as hh the
exclusive or of all bytes between `$` and `*` (K. Betke, The NMEA 0183 Protocol, 2001).
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.importers.common.content import Content
from gearfit.importers.common.options import ReadOptions

Bytes = NDArray[np.uint8]
Places = NDArray[np.int64]
Bools = NDArray[np.bool_]

_SENTENCE: Final = re.compile(rb"[$!][A-Z][A-Z0-9]{2,9},[ -~]*")
#: Bytes in which the format is recognised, and the share of them that must lie in sentences.
_HEAD_BYTES: Final = 65_536
_HEAD_SHARE: Final = 0.3
#: Length of `$ttsss,` and of `tt`, and the first letter of proprietary sentences, whose names follow other rules.
_NAME_BYTES: Final = 7
_TALKER_BYTES: Final = 2
_PROPRIETARY: Final = ord("P")


def is_nmea(content: Content, _: ReadOptions) -> bool:
    """Whether a file consists of sentences, other bytes between them allowed."""
    head = content.head[:_HEAD_BYTES]
    found = _SENTENCE.findall(head) if b"$" in head or b"!" in head else []
    return bool(found) and sum(map(len, found)) >= _HEAD_SHARE * len(head.strip())


@dataclass(frozen=True, eq=False)
class Sentences:
    """All sentences of a file.

    Attributes
    ----------
    data : numpy.ndarray of uint8
        The file.
    start, end : numpy.ndarray
        Place of each `$`, and of the `*` of its checksum or, where there is none, of the end of its line.
    line : numpy.ndarray
        Line of the file of each sentence, from 1.
    has_checksum, good : numpy.ndarray of bool
        Whether a checksum stands there, and whether it is right.
    """

    data: Bytes
    start: Places
    end: Places
    line: Places
    has_checksum: Bools
    good: Bools

    def called(self, name: str) -> Bools:
        """Whether each sentence is of this kind, from whatever talker."""
        alike: Bools = self._names == int.from_bytes(f"{name},".encode("ascii"), "big")
        return alike

    @cached_property
    def _names(self) -> Places:
        """The letters of each sentence's name and the comma after them as one number; 0 where it has no such name."""
        last = self.data.size - 1
        names: Places = np.zeros(self.start.size, dtype=np.int64)
        for place in range(_TALKER_BYTES + 1, _NAME_BYTES):
            names = 256 * names + self.data[np.minimum(self.start + place, last)]
        named = self.data[np.minimum(self.start + 1, last)] != _PROPRIETARY
        return np.where(named & (self.end - self.start >= _NAME_BYTES), names, 0)

    def fields(self, chosen: Bools, wanted: dict[int, str]) -> pd.DataFrame:
        """Cut the chosen sentences into fields.

        Parameters
        ----------
        chosen : numpy.ndarray of bool
            Which sentences.
        wanted : dict
            Number of a field (1 follows the name) -> its name as a column.

        Returns
        -------
        pandas.DataFrame
            One row a sentence, text or numbers; NaN where a field is empty or missing.
        """
        starts, ends = self.start[chosen] + _NAME_BYTES, self.end[chosen]
        if not starts.size:
            return pd.DataFrame({name: pd.Series(dtype="float64") for name in wanted.values()})
        text = self.data.tobytes()
        bodies = [text[start:end] for start, end in zip(starts.tolist(), ends.tolist(), strict=True)]
        return pd.read_csv(
            io.BytesIO(b"\n".join([*bodies, b""])),
            header=None,
            names=[wanted.get(number, f"field {number}") for number in range(1, max(wanted) + 1)],
            usecols=list(wanted.values()),
            index_col=False,
            encoding="latin-1",
            lineterminator="\n",
            quoting=3,
            skip_blank_lines=False,
            low_memory=False,
        )


def find_sentences(data: bytes) -> Sentences:
    """Find every sentence and compare its checksum."""
    array = np.frombuffer(data + b"\n", dtype=np.uint8)
    starts = np.flatnonzero(array == ord("$"))
    line_ends = np.flatnonzero((array == ord("\n")) | (array == ord("\r")))
    stars = np.append(np.flatnonzero(array == ord("*")), array.size)
    ends = line_ends[np.searchsorted(line_ends, starts)]
    ends = np.minimum(ends, np.append(starts[1:], array.size))
    star = stars[np.searchsorted(stars, starts)]
    has_checksum = star + 2 < ends
    star = np.where(has_checksum, star, 0)
    stated = 16 * _hex_digit(array[star + 1]) + _hex_digit(array[np.minimum(star + 2, array.size - 1)])
    running = np.bitwise_xor.accumulate(array)
    right = (running[np.maximum(star - 1, 0)] ^ running[starts]) == stated
    line_feeds = np.flatnonzero(array == ord("\n"))
    return Sentences(
        data=array,
        start=starts,
        end=np.where(has_checksum, star, ends),
        line=np.searchsorted(line_feeds, starts) + 1,
        has_checksum=has_checksum,
        good=has_checksum & right,
    )


def _hex_digit(letters: Bytes) -> Places:
    """Return the value of hexadecimal digits; so much that no checksum is equal where it is none."""
    values = np.full(256, 10_000, dtype=np.int64)
    for digits, first in ((b"0123456789", 0), (b"ABCDEF", 10), (b"abcdef", 10)):
        values[np.frombuffer(digits, dtype=np.uint8)] = np.arange(first, first + len(digits))
    return values[letters]
