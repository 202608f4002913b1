"""What is read of a GPX file before anything is interpreted: the texts of every track point, in columns."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

#: Elements read: straight below a point, and at any depth in its extensions (speed in m/s, rpm in rev/min).
DIRECT: Final = frozenset(("time", "ele", "speed"))
INNER: Final = {"speed": "inner speed", "rpm": "rpm"}
#: Letters that are parsed at a time, as each piece is copied.
PIECE: Final = 1_000_000

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
    texts: dict[str, Texts] = field(default_factory=lambda: {key: [] for key in (*DIRECT, *INNER.values())})
    outside: int = 0
    has_route_or_waypoint: bool = False
