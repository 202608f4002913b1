"""Fast way through GPX points that are written alike, as recorders write them.

One point, its values replaced by gaps, is the pattern. In the text of the points that follow, each piece of the pattern
is replaced by one control character, of which no text holds any. If these then stand in the order of the pattern, over
and over, and what remains between them has no markup, the text is that pattern and nothing else: putting the pieces
back gives it letter by letter. The numbers between are read all at once. Whatever is not exactly so is left to
the reader that goes element by element.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.importers.common.iso_times import utc_microseconds
from gearfit.importers.common.plain_numbers import SEPARATOR, read_floats
from gearfit.importers.gpx.columns import Scan

Floats = NDArray[np.float64]

#: Text between tags that is no blank, and the two attributes that differ from point to point.
_GAP: Final = re.compile(
    r"(?<=>)[^<>&\"']*[^<>&\"'\s][^<>&\"']*(?=<)|(?<=\slat=\")[^\"<&]*(?=\")|(?<=\slon=\")[^\"<&]*(?=\")"
)
#: What in a point, or around one, is no plain markup: comments, sections of characters, instructions.
_OTHER: Final = ("<!", "<?", "-->", "]]>", "?>")
#: Characters for the pieces; what may stand in a value (2: nowhere else either).
_SIGNS: Final = bytes((*range(2, 9), *range(14, 26), *range(28, 32)))
_ALLOWED: Final = bytes(set(range(32, 127)) - set(b"<>&\"'")) + b"\t"
_KIND: Final = np.full(256, 2, dtype=np.uint8)
_KIND[np.frombuffer(_ALLOWED, dtype=np.uint8)] = 0
_KIND[np.frombuffer(_SIGNS, dtype=np.uint8)] = 1
#: What a text of each kind is as a number.
_COLUMNS: Final = {"ele": "elevation_m", "inner speed": "speed_mps", "speed": "speed_mps", "rpm": "engine_rpm"}


@dataclass(frozen=True)
class Pattern:
    """How points are written.

    Attributes
    ----------
    letters : int
        Length of the point that the pattern was made of.
    space, first, last : bytes
        Blanks between points, and what stands before the first value of a point and after the last.
    signs : dict
        Sign -> piece, in the order in which they are put in: a piece that holds another comes before it.
    order : bytes
        The signs of one point, the one up to the next point at the end.
    gaps : dict
        Column or "time" -> number of its gap.
    stated : frozenset of str
        Keys of `Scan.texts` that the points have.
    """

    letters: int
    space: bytes
    first: bytes
    last: bytes
    signs: dict[bytes, bytes]
    order: bytes
    gaps: dict[str, int]
    stated: frozenset[str]


def pattern_of(point: str, space: str, scan: Callable[[str], Scan | None]) -> Pattern | None:
    """Make a pattern of a point; None where its points have to be read one by one.

    Parameters
    ----------
    point : str
        The point, from `<trkpt` to `</trkpt>`.
    space : str
        Blanks up to the next point.
    scan : callable
        The reader that goes element by element, for the text of a point; None where it finds a fault.
    """
    pieces = _GAP.split(point)
    if any(mark in point for mark in _OTHER) or len(pieces) < 4:
        return None
    marks = [f"1.{number:06d}" for number in range(len(pieces) - 1)]
    probe = scan("".join(piece + mark for piece, mark in zip(pieces, [*marks, ""], strict=True)))
    if probe is None or len(probe.segment) != 1:
        return None
    found = {slot: texts[0] for slot, texts in probe.texts.items() if texts[0] is not None}
    found |= {"latitude_deg": f"{probe.latitude_deg[0]:.6f}", "longitude_deg": f"{probe.longitude_deg[0]:.6f}"}
    if "time" not in found or not set(found.values()) <= set(marks):
        return None
    if "speed" in found:
        found.pop("inner speed", None)
    between = [piece.encode() for piece in (*pieces[1:-1], pieces[-1] + space + pieces[0])]
    distinct = sorted(set(between), key=len, reverse=True)
    if len(distinct) > len(_SIGNS):
        return None
    signs = {bytes([sign]): piece for sign, piece in zip(_SIGNS, distinct, strict=False)}
    sign_of = {piece: sign for sign, piece in signs.items()}
    return Pattern(
        letters=len(point),
        space=space.encode(),
        first=pieces[0].encode(),
        last=pieces[-1].encode(),
        signs=signs,
        order=b"".join(sign_of[piece] for piece in between),
        gaps={_COLUMNS.get(slot, slot): marks.index(mark) for slot, mark in found.items()},
        stated=frozenset(slot for slot, texts in probe.texts.items() if texts[0] is not None),
    )


def read_alike(text: str, pattern: Pattern) -> dict[str, Floats] | None:
    """Read points, each with the blanks before it; None where any is written otherwise or holds what is no number.

    Returns
    -------
    dict
        Name of a column of `gearfit.importers.gpx.columns.Columns` -> numbers.
    """
    data = text.encode()
    start = pattern.space + pattern.first
    if not (data.startswith(start) and data.endswith(pattern.last)):
        return None
    data = data[len(start) : -len(pattern.last)]
    for sign, piece in pattern.signs.items():
        data = data.replace(piece, sign)
    letters = np.frombuffer(data + pattern.order[-1:], dtype=np.uint8).copy()
    kinds = _KIND[letters]
    ends = np.flatnonzero(kinds)
    width = len(pattern.order)
    if ends.size % width or (kinds[ends] == 2).any():
        return None
    if (letters[ends].reshape(-1, width) != np.frombuffer(pattern.order, dtype=np.uint8)).any():
        return None
    letters[ends] = ord(SEPARATOR)
    letters[ends[width - 1 :: width]] = ord("\n")
    starts = np.append(0, ends[:-1] + 1).reshape(-1, width)
    return _numbers(letters, starts, ends.reshape(-1, width), pattern)


def _numbers(
    letters: NDArray[np.uint8], starts: NDArray[np.int64], ends: NDArray[np.int64], pattern: Pattern
) -> dict[str, Floats] | None:
    used = sorted(pattern.gaps.values())
    if (starts[:, used] == ends[:, used]).any():
        return None
    gaps = dict(pattern.gaps)
    time = gaps.pop("time")
    microseconds = utc_microseconds(letters, starts[:, time], ends[:, time])
    if microseconds is None:
        return None
    columns = sorted(gaps.values())
    longest = (ends - starts)[:, columns].max(axis=0)
    table = read_floats(letters.tobytes(), dict(zip(columns, longest.tolist(), strict=True)), starts.shape[1])
    if table is None or len(table[columns[0]]) != len(starts):
        return None
    found = {name: table[gap] for name, gap in gaps.items()}
    if not all(np.isfinite(values).all() for values in found.values()):
        return None
    if (np.abs(found["latitude_deg"]) > 90.0).any() or (np.abs(found["longitude_deg"]) > 180.0).any():
        return None
    return found | {"unix_s": microseconds / 1e6}
