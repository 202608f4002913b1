"""One pass over a GPX file: the texts of every track point in columns, and what must not be parsed refused.

Elements are known by their local names, so that any prefix and any namespace is read. Every column gets one entry for
each point, so that columns stay aligned where a point lacks an element.
"""

from __future__ import annotations

from typing import Final
from xml.parsers import expat

from gearfit.errors import LogError
from gearfit.importers.gpx_columns import DIRECT, INNER, PIECE, Scan
from gearfit.importers.gpx_uniform import scan_uniform
from gearfit.importers.quoting import quoted

#: Different tags that are remembered.
_MOST_TAGS: Final = 1000


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

    def __init__(self, name: str) -> None:
        self.name = name
        self.scan = Scan()
        self.columns = list(self.scan.texts.values())
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
            return
        local = _local(tag)
        if not self.path and local != "gpx":
            raise LogError(
                self.name, f"the root element is {quoted(local)}; allowed is 'gpx'", "Export the ride as GPX"
            )
        self.path.append(local)
        if local == "trkpt":
            self._begin_point(attributes)
        elif local == "trkseg":
            self.segments += 1
        elif local in ("wpt", "rtept"):
            self.scan.has_route_or_waypoint = True

    def _begin_point(self, attributes: dict[str, str]) -> None:
        self.inside = 1
        for texts in self.columns:
            texts.append(None)
        self.scan.segment.append(self.segments)
        self.scan.outside += self.path[-3:-1] != ["trk", "trkseg"]
        self.scan.latitude_deg.append(self._degrees(attributes, "lat", 90.0))
        self.scan.longitude_deg.append(self._degrees(attributes, "lon", 180.0))

    def _degrees(self, attributes: dict[str, str], key: str, most: float) -> float:
        text = attributes.get(key, "")
        try:
            degrees = float(text)
        except ValueError:
            degrees = float("nan")
        if not abs(degrees) <= most:
            raise LogError(
                f"{self.name}, point {len(self.scan.segment)}",
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


def _local(tag: str) -> str:
    return tag.rpartition(":")[2]


def scan_gpx(name: str, text: str) -> Scan:
    """Go through a GPX file once.

    Raises
    ------
    LogError
        DOCTYPE or entity declaration, a root other than `gpx`, an impossible position (by number of the point), or a
        file that is cut or no well-formed XML.
    """
    text = text.lstrip()
    return scan_uniform(text, lambda short: scan_each(name, short)) or scan_each(name, text)


def scan_each(name: str, text: str) -> Scan:
    """Go through a file element by element."""
    handler = _Handler(name)
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = handler.doctype
    parser.EntityDeclHandler = handler.doctype
    parser.StartElementHandler = handler.start
    # Text outside of the elements read is thrown away where the next one begins or a point ends.
    parser.CharacterDataHandler = handler.text.append
    parser.EndElementHandler = handler.end
    try:
        # Text, not bytes: whatever encoding the file declares has been settled already.
        for at in range(0, len(text), PIECE):
            parser.Parse(text[at : at + PIECE], False)
        parser.Parse("", True)
    except expat.ExpatError as error:
        raise LogError(
            f"{name}, line {error.lineno}, column {error.offset + 1}",
            f"the file is cut or damaged here ({expat.ErrorString(error.code)}); allowed is a complete GPX file",
            "Export or copy it again from the recorder",
        ) from error
    return handler.scan
