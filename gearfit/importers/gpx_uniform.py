"""Fast way through GPX files in which all points of a segment are written alike, as recorders write them.

The first point of a segment, its values replaced by gaps, is the pattern of all its points. If the points are that
pattern, one straight after the other, their values are found by one search, and the file with one point in place of
each segment's is left to the ordinary reader, which says what each gap means. Whatever is not exactly so is given back
to the ordinary reader as a whole.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Final, NamedTuple
from xml.parsers import expat

from gearfit.importers.gpx_columns import PIECE, Scan

_FIRST: Final = re.compile(r"<trkpt\s")
_END: Final = "</trkpt>"
_CLOSE: Final = "</trkseg>"
#: Text between tags that is no blank, and the two attributes that differ from point to point.
_GAP: Final = re.compile(
    r"(?<=>)[^<>&\"']*[^<>&\"'\s][^<>&\"']*(?=<)|(?<=\slat=\")[^\"<&]*(?=\")|(?<=\slon=\")[^\"<&]*(?=\")"
)
_VALUE: Final = "([^<>&\"']*)"


class _Segment(NamedTuple):
    """Where the points of a segment lie, one point with marks for values, and the values of each gap."""

    start: int
    end: int
    marked: str
    columns: list[tuple[str, ...]]


def scan_uniform(text: str, scan: Callable[[str], Scan]) -> Scan | None:
    """Go through a file whose points are written alike; None where they are not, or anything is wrong with the file.

    Parameters
    ----------
    text : str
        The file.
    scan : callable
        The ordinary reader.
    """
    # XML takes line ends of other systems for line feeds; a search does not.
    segments = None if "\r" in text else _segments(text)
    if not segments or not _well_formed(text):
        return None
    kept, at = [], 0
    for segment in segments:
        kept += [text[at : segment.start], segment.marked]
        at = segment.end
    probe = scan("".join((*kept, text[at:])))
    if len(probe.segment) != len(segments):
        return None
    whole = Scan(outside=0, has_route_or_waypoint=probe.has_route_or_waypoint)
    for number, segment in enumerate(segments):
        if not _add(whole, probe, number, segment):
            return None
    return None if probe.outside else whole


def _segments(text: str) -> list[_Segment] | None:
    """Return every run of points; None where the points of one are not alike."""
    found = []
    first = _FIRST.search(text)
    while first is not None:
        close = text.find(_CLOSE, first.start())
        last = text.rfind(_END, first.start(), close)
        if close < 0 or last < 0:
            return None
        segment = _segment(text, first.start(), last + len(_END))
        if segment is None:
            return None
        found.append(segment)
        first = _FIRST.search(text, segment.end)
    return found


def _segment(text: str, start: int, end: int) -> _Segment | None:
    point = text[start : text.index(_END, start) + len(_END)]
    between = re.match(r"\s*", text[start + len(point) : start + len(point) + 100])
    space = "" if between is None or start + len(point) == end else between.group()
    pieces = _GAP.split(point)
    if any(mark in point for mark in ("<!", "<?")) or len(pieces) < 3:
        return None
    # Each match but the last includes the blanks up to the next point, so that lengths that add up leave no gap.
    pattern = re.compile(f"{_VALUE.join(map(re.escape, pieces))}(?:{re.escape(space)}|\\Z)")
    columns = list(zip(*pattern.findall(text, start, end), strict=True))
    count = len(columns[0]) if columns else 0
    written = count * (sum(map(len, pieces)) + len(space)) - len(space) + sum(len("".join(each)) for each in columns)
    if written != end - start:
        return None
    marked = "".join(part + mark for part, mark in zip(pieces, [*_marks(len(pieces) - 1), ""], strict=True))
    return _Segment(start, end, marked, columns)


def _marks(count: int) -> list[str]:
    """One number for each gap, all different, none beyond a latitude."""
    return [f"1.{number:06d}" for number in range(count)]


def _well_formed(text: str) -> bool:
    def refuse(*_: object) -> None:
        raise ValueError

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    try:
        for at in range(0, len(text), PIECE):
            parser.Parse(text[at : at + PIECE], False)
        parser.Parse("", True)
    except (expat.ExpatError, ValueError):
        return False
    return True


def _add(whole: Scan, probe: Scan, number: int, segment: _Segment) -> bool:
    """Add the points of a segment; False where one has a position that is none, or an empty value."""
    gaps = {mark: column for mark, column in zip(_marks(len(segment.columns)), segment.columns, strict=True)}
    count = len(segment.columns[0])
    try:
        latitude_deg, longitude_deg = (
            list(map(float, gaps[f"{place[number]:.6f}"])) for place in (probe.latitude_deg, probe.longitude_deg)
        )
    except (KeyError, ValueError):
        return False
    if not (_within(latitude_deg, 90.0) and _within(longitude_deg, 180.0)):
        return False
    for slot, texts in probe.texts.items():
        mark = texts[number]
        if mark is not None and mark not in gaps:
            return False
        values: Sequence[str | None] = [None] * count if mark is None else [value.strip() for value in gaps[mark]]
        if mark is not None and not all(values):
            return False
        whole.texts[slot] += values
    whole.latitude_deg += latitude_deg
    whole.longitude_deg += longitude_deg
    whole.segment += [probe.segment[number]] * count
    return True


def _within(degrees: list[float], most: float) -> bool:
    return -most <= min(degrees) and max(degrees) <= most and all(value == value for value in degrees)
