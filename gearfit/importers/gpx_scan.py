"""A first pass over a GPX file that refuses what must not be parsed and notes what the GPX library drops.

The library turns unreadable times into none and does not see a missing zone; the texts are collected here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.parsers import expat

from gearfit.errors import LogError


@dataclass
class Scan:
    """Texts of each track point in the order of the file: time and a direct speed element, None where absent."""

    times: list[str | None] = field(default_factory=list)
    speeds: list[str | None] = field(default_factory=list)
    has_route_or_waypoint: bool = False


class _Handler:
    def __init__(self, name: str) -> None:
        self.name = name
        self.scan = Scan()
        self.path: list[str] = []
        self.text: list[str] | None = None

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
                self.name,
                f"the root element is {local!r}; allowed is 'gpx'",
                "Export the ride as GPX",
            )
        self.path.append(local)
        if local == "trkpt":
            self.scan.times.append(None)
            self.scan.speeds.append(None)
            self._check_position(attributes)
        elif local in ("wpt", "rtept"):
            self.scan.has_route_or_waypoint = True
        self.text = [] if self.path[-2:-1] == ["trkpt"] and local in ("time", "speed") else None

    def _check_position(self, attributes: dict[str, str]) -> None:
        for key, most in (("lat", 90.0), ("lon", 180.0)):
            text = attributes.get(key, "")
            try:
                possible = abs(float(text)) <= most
            except ValueError:
                possible = False
            if not possible:
                raise LogError(
                    f"{self.name}, point {len(self.scan.times)}",
                    f"{key} is {text!r}; allowed is -{most:g} to {most:g} degrees",
                    "Correct or remove the point",
                )

    def data(self, text: str) -> None:
        if self.text is not None:
            self.text.append(text)

    def end(self, _: str) -> None:
        local = self.path.pop()
        if self.text is not None:
            found = self.scan.times if local == "time" else self.scan.speeds
            found[-1] = "".join(self.text).strip()
            self.text = None


def scan_gpx(name: str, data: bytes) -> Scan:
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
        parser.Parse(data.lstrip(), True)
    except expat.ExpatError as error:
        raise LogError(
            f"{name}, line {error.lineno}, column {error.offset + 1}",
            f"the file is cut or damaged here ({expat.ErrorString(error.code)}); allowed is a complete GPX file",
            "Export or copy it again from the recorder",
        ) from error
    return handler.scan
