"""Track points of a GPX file in one pass over its text, and what must not be parsed refused.

Elements are known by their local names, so that any prefix and any namespace is read. Every column gets one entry for
each point, so that columns stay aligned where a point lacks an element. Points that are written like the one before
them are read by `gearfit.importers.gpx.uniform`; they are whole elements, so the parser need not see them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Final
from xml.parsers import expat

import numpy as np

from gearfit.errors import LogError
from gearfit.importers.common.quoting import quoted
from gearfit.importers.gpx.columns import DIRECT, INNER, Columns, Scan
from gearfit.importers.gpx.uniform import Pattern, pattern_of, read_alike

#: Elements within each other; recorders write fewer than ten, and each that is open takes memory.
_DEEPEST: Final = 100
#: Different tags that are remembered.
_MOST_TAGS: Final = 1000
#: Points that must be alike for the fast way to pay, and times that they may turn out not to be.
_FEWEST_ALIKE: Final = 100
_MOST_MISSES: Final = 5
#: Points whose texts are kept before they become numbers, and letters that are kept while a point is not complete.
_MOST_TEXTS: Final = 2_000
_MOST_LETTERS: Final = 1_000_000
_FIRST: Final = re.compile(r"<trkpt\s")
_BLANKS: Final = re.compile(r"\s*")
_END: Final = "</trkpt>"
_CLOSE: Final = "</trkseg>"
#: Where the reader of the pattern finds its point.
_AROUND: Final = ("<gpx><trk><trkseg>", "</trkseg></trk></gpx>")


class _Slots(dict[str, str | None]):
    """Tag -> column that its text goes to, or None; worked out once, as a file repeats its tags in each point."""

    def __init__(self, direct: frozenset[str]) -> None:
        self.direct = direct

    def __missing__(self, tag: str) -> str | None:
        local = _local(tag)
        slot = local if local in self.direct else INNER.get(local.lower())
        if len(self) < _MOST_TAGS:
            self[tag] = slot
        return slot


class _Handler:
    """What happens at each element: `path` leads to the present one, but ends at the point while inside of one."""

    def __init__(self, name: str, columns: Columns) -> None:
        self.name = name
        self.columns = columns
        self.scan = Scan()
        self.texts = list(self.scan.texts.values())
        self.path: list[str] = []
        self.segments = 0
        self.inside = 0
        self.slot: str | None = None
        self.text: list[str] = []
        self.below_point, self.deeper = _Slots(DIRECT), _Slots(frozenset())

    def doctype(self, *_: object) -> None:
        raise LogError(
            self.name,
            "the file has a DOCTYPE or entity declaration, which no GPX track has and which is never expanded",
            "Export the track again from the recorder",
        )

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.text.clear()
        if self.inside:
            self.slot = self.below_point[tag] if self.inside == 1 else self.deeper[tag]
            self.inside += 1
            if self.inside > _DEEPEST:
                raise self._too_deep()
            return
        local = _local(tag)
        if not self.path and local != "gpx":
            raise LogError(
                self.name, f"the root element is {quoted(local)}; allowed is 'gpx'", "Export the ride as GPX"
            )
        self.path.append(local)
        if len(self.path) > _DEEPEST:
            raise self._too_deep()
        if local == "trkpt":
            self._begin_point(attributes)
        elif local == "trkseg":
            self.segments += 1
        elif local in ("wpt", "rtept"):
            self.columns.has_route_or_waypoint = True

    def _too_deep(self) -> LogError:
        return LogError(
            self.name,
            f"elements stand within each other more than {_DEEPEST} deep, which no GPX track has",
            "Export the track again from the recorder",
        )

    def _begin_point(self, attributes: dict[str, str]) -> None:
        self.inside = 1
        for texts in self.texts:
            texts.append(None)
        self.scan.segment.append(self.segments)
        self.columns.outside += self.path[-3:-1] != ["trk", "trkseg"]
        self.scan.latitude_deg.append(self._degrees(attributes, "lat", 90.0))
        self.scan.longitude_deg.append(self._degrees(attributes, "lon", 180.0))

    def _degrees(self, attributes: dict[str, str], key: str, most: float) -> float:
        text = attributes.get(key, "")
        try:
            degrees = float(text) if text.isascii() and "_" not in text else float("nan")
        except ValueError:
            degrees = float("nan")
        if not abs(degrees) <= most:
            raise LogError(
                f"{self.name}, point {self.points}",
                f"{key} is {quoted(text)}; allowed is -{most:g} to {most:g} degrees",
                "Correct or remove the point",
            )
        return degrees

    def end(self, _: str) -> None:
        if self.slot is not None:
            texts = self.scan.texts[self.slot]
            texts[-1] = texts[-1] or "".join(self.text).strip() or None
            self.slot = None
        if self.inside:
            self.inside -= 1
            if self.inside:
                return
        self.path.pop()

    @property
    def points(self) -> int:
        """Points begun so far."""
        return self.columns.count + len(self.scan.segment)

    def flush(self) -> None:
        """Turn the texts of the points so far into numbers; not while inside a point."""
        self.columns.add_texts(self.scan)
        self.scan = Scan()
        self.texts = list(self.scan.texts.values())


def _local(tag: str) -> str:
    return tag.rpartition(":")[2]


class _Parser:
    """Expat with the handler."""

    def __init__(self, name: str, columns: Columns) -> None:
        self.handler = _Handler(name, columns)
        self.expat = expat.ParserCreate()
        self.expat.buffer_text = True
        self.expat.StartDoctypeDeclHandler = self.handler.doctype
        self.expat.EntityDeclHandler = self.handler.doctype
        self.expat.StartElementHandler = self.handler.start
        self.expat.CharacterDataHandler = self._keep
        self.expat.EndElementHandler = self.handler.end

    def _keep(self, text: str) -> None:
        """Keep text; what is outside of the elements read is thrown away where the next begins or a point ends."""
        self.handler.text.append(text)

    def feed(self, text: str, last: bool = False) -> None:
        # Text, not bytes: whatever encoding the file declares has been settled already.
        self.expat.Parse(text, last)
        if len(self.handler.scan.segment) >= _MOST_TEXTS and not self.handler.inside:
            self.handler.flush()

    def feed_point(self, point: str) -> bool:
        """Feed what should be one point; whether it was, and lies in a track segment."""
        handler = self.handler
        before = handler.points
        self.feed(point)
        return handler.points == before + 1 and not handler.inside and handler.path[-2:] == ["trk", "trkseg"]


class _Reader:
    """Text that is still to be read, and how the points that should follow are written (None: not known)."""

    def __init__(self, name: str, fewest: int | None) -> None:
        self.columns = Columns()
        self.parser = _Parser(name, self.columns)
        self.fewest = fewest
        self.text, self.begun = "", False
        self.pattern: Pattern | None = None
        self.misses = 0
        self.skipped = False

    def read(self, pieces: Iterator[str]) -> Columns:
        for piece in pieces:
            self.text += piece if self.begun else piece.lstrip()
            self.begun = self.begun or bool(self.text)
            while self.text and self._step():
                pass
        self.parser.feed(self.text, last=True)
        self.parser.handler.flush()
        return self.columns

    def _step(self) -> bool:
        """Read some of the text; whether there is more that can be read now."""
        if self.fewest is None or self.misses > _MOST_MISSES:
            return self._pass_on(len(self.text))
        if self.pattern is None:
            return self._first_point(self.fewest)
        return self._follow(self.pattern, self.fewest)

    def _pass_on(self, end: int) -> bool:
        """Leave text to the parser; whether any is left."""
        self.parser.feed(self.text[:end])
        self.text, self.pattern = self.text[end:], None
        return bool(self.text)

    def _run(self, start: int) -> tuple[int, bool]:
        """Return where the last point ends that lies whole in the text, and whether the segment ends as well."""
        close = self.text.find(_CLOSE, start)
        last = self.text.rfind(_END, start, None if close < 0 else close)
        return max(start, last + len(_END)) if last >= 0 else start, close >= 0

    def _first_point(self, fewest: int) -> bool:
        """Read up to the end of a point after which others follow, and note how it is written."""
        found = _FIRST.search(self.text)
        if found is None:
            return self._pass_on(len(self.text))
        start = found.start()
        end = self.text.find(_END, start) + len(_END)
        run, closed = self._run(end) if end >= len(_END) else (0, False)
        if end < len(_END) or run - end < fewest * (end - start):
            if closed:
                return self._pass_on(run)
            if len(self.text) - start > _MOST_LETTERS:
                return self._pass_on(len(self.text))
            self._pass_on(start)
            return False
        point, space = self.text[start:end], _BLANKS.match(self.text, end)
        self._pass_on(start)
        whole = self.parser.feed_point(point)
        self.text = self.text[len(point) :]
        self.pattern = pattern_of(point, space.group() if space else "", _scan_point) if whole else None
        self.misses += self.pattern is None
        return True

    def _follow(self, pattern: Pattern, fewest: int) -> bool:
        """Read the points that follow, if they are written as the pattern says."""
        run, closed = self._run(0)
        if run < max(1, fewest * pattern.letters):
            return self._pass_on(run) if closed or len(self.text) > _MOST_LETTERS else False
        numbers = read_alike(self.text[:run], pattern)
        if numbers is None:
            self.misses += 1
            return self._pass_on(run)
        handler = self.parser.handler
        handler.flush()
        self.columns.stated |= pattern.stated
        self.columns.add_numbers(numbers, np.full(numbers["unix_s"].size, handler.segments))
        self.skipped = True
        self.text = self.text[run:]
        if closed:
            self.pattern = None
        return closed


def _scan_point(point: str) -> Scan | None:
    parser = _Parser("", Columns())
    try:
        parser.expat.Parse(point.join(_AROUND), True)
    except (expat.ExpatError, LogError):
        return None
    return parser.handler.scan


def scan_gpx(name: str, pieces: Callable[[], Iterator[str]], fewest: int | None = _FEWEST_ALIKE) -> Columns:
    """Go through a GPX file.

    Parameters
    ----------
    name : str
        Name of the file, for messages.
    pieces : callable
        Its text from the beginning, piece by piece.
    fewest : int or None
        Points in a row for which the fast way is tried; None for element by element throughout.

    Raises
    ------
    LogError
        DOCTYPE or entity declaration, a root other than `gpx`, an impossible position (by number of the point), or a
        file that is cut or no well-formed XML.
    """
    reader = _Reader(name, fewest)
    try:
        return reader.read(pieces())
    except expat.ExpatError as error:
        if reader.skipped:
            # The parser has not seen all of the text, so only without the fast way it knows the line.
            return scan_gpx(name, pieces, None)
        raise LogError(
            f"{name}, line {error.lineno}, column {error.offset + 1}",
            f"the file is cut or damaged here ({expat.ErrorString(error.code)}); allowed is a complete GPX file",
            "Export or copy it again from the recorder",
        ) from error
