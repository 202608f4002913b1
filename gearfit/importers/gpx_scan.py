"""One pass over a GPX file: the texts of every track point in columns, and what must not be parsed refused.

Elements are known by their local names, so that any prefix and any namespace is read. Every column gets one entry for
each point, so that columns stay aligned where a point lacks an element.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final
from xml.parsers import expat

from gearfit.errors import LogError
from gearfit.importers.quoting import quoted

#: Elements read: straight below a point, and at any depth in its extensions (speed in m/s, rpm in rev/min).
_DIRECT: Final = frozenset(("time", "ele", "speed"))
_INNER: Final = {"speed": "inner speed", "rpm": "rpm"}

Texts = list[str | None]


@dataclass
class Scan:
    """Track points in the order of the file.

    Attributes
    ----------
    latitude_deg, longitude_deg : list of float
        Positions.
    segment : list of int
        Number of the track segment, from 1.
    texts : dict
        Texts of "time", "ele", "speed", "inner speed" (of an extension) and "rpm", None where a point has none.
    outside : int
        Points that lie in no track segment.
    has_route_or_waypoint : bool
        Whether there are other points.
    """

    latitude_deg: list[float] = field(default_factory=list)
    longitude_deg: list[float] = field(default_factory=list)
    segment: list[int] = field(default_factory=list)
    texts: dict[str, Texts] = field(default_factory=lambda: {key: [] for key in (*_DIRECT, *_INNER.values())})
    outside: int = 0
    has_route_or_waypoint: bool = False


class _Handler:
    def __init__(self, name: str) -> None:
        self.name = name
        self.scan = Scan()
        self.path: list[str] = []
        self.segments = 0
        self.point_depth = 0
        self.slot: str | None = None
        self.text: list[str] = []

    def doctype(self, *_: object) -> None:
        raise LogError(
            self.name,
            "the file has a DOCTYPE or entity declaration, which no GPX track has and which is never expanded",
            "Export the track again from the recorder",
        )

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        local = tag.rpartition(":")[2]
        if not self.path and local != "gpx":
            raise LogError(
                self.name, f"the root element is {quoted(local)}; allowed is 'gpx'", "Export the ride as GPX"
            )
        self.path.append(local)
        self.slot = None
        if self.point_depth:
            self._inside_point(local)
        elif local == "trkpt":
            self._begin_point(attributes)
        elif local == "trkseg":
            self.segments += 1
        elif local in ("wpt", "rtept"):
            self.scan.has_route_or_waypoint = True

    def _inside_point(self, local: str) -> None:
        if local in _DIRECT and len(self.path) == self.point_depth + 1:
            self.slot = local
        else:
            self.slot = _INNER.get(local.lower())
        self.text = []

    def _begin_point(self, attributes: dict[str, str]) -> None:
        self.point_depth = len(self.path)
        for texts in self.scan.texts.values():
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

    def data(self, text: str) -> None:
        if self.slot is not None:
            self.text.append(text)

    def end(self, _: str) -> None:
        if self.slot is not None:
            texts = self.scan.texts[self.slot]
            texts[-1] = texts[-1] or "".join(self.text).strip() or None
            self.slot = None
        if len(self.path) == self.point_depth:
            self.point_depth = 0
        self.path.pop()


def scan_gpx(name: str, text: str) -> Scan:
    """Go through a GPX file once.

    Raises
    ------
    LogError
        DOCTYPE or entity declaration, a root other than `gpx`, an impossible position (by number of the point), or a
        file that is cut or no well-formed XML.
    """
    handler = _Handler(name)
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = handler.doctype
    parser.EntityDeclHandler = handler.doctype
    parser.StartElementHandler = handler.start
    parser.CharacterDataHandler = handler.data
    parser.EndElementHandler = handler.end
    try:
        # Text, not bytes: whatever encoding the file declares has been settled already.
        parser.Parse(text.lstrip(), True)
    except expat.ExpatError as error:
        raise LogError(
            f"{name}, line {error.lineno}, column {error.offset + 1}",
            f"the file is cut or damaged here ({expat.ErrorString(error.code)}); allowed is a complete GPX file",
            "Export or copy it again from the recorder",
        ) from error
    return handler.scan
