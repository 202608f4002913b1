"""Conversions to and from SI, each constant exact by definition.

Sources: international mile 1609.344 m and inch 25.4 mm (International Yard and Pound Agreement, 1959);
nautical mile 1852 m (First International Extraordinary Hydrographic Conference, Monaco, 1929).
"""

from __future__ import annotations

from typing import Final

MPS_PER_KMH: Final = 1.0 / 3.6
MPS_PER_MPH: Final = 1609.344 / 3600.0
MPS_PER_KNOT: Final = 1852.0 / 3600.0
MPS_PER_FTPS: Final = 0.3048
METRE_PER_INCH: Final = 0.0254
METRE_PER_MILE: Final = 1609.344
SECONDS_PER_MINUTE: Final = 60.0

#: Speed units as headers and options name them -> metres per second in one of them.
SPEED_UNITS_MPS: Final[dict[str, float]] = {
    "kmh": MPS_PER_KMH,
    "mph": MPS_PER_MPH,
    "mps": 1.0,
    "knot": MPS_PER_KNOT,
    "ftps": MPS_PER_FTPS,
}

#: How a speed unit is written for people.
SPEED_UNIT_LABELS: Final[dict[str, str]] = {
    "kmh": "km/h",
    "mph": "mph",
    "mps": "m/s",
    "knot": "kn",
    "ftps": "ft/s",
}


def to_mps(speed: float, unit: str) -> float:
    """Convert a speed in `unit` (a key of `SPEED_UNITS_MPS`) to metres per second."""
    return speed * SPEED_UNITS_MPS[unit]


def from_mps(speed_mps: float, unit: str) -> float:
    """Convert metres per second to `unit` (a key of `SPEED_UNITS_MPS`)."""
    return speed_mps / SPEED_UNITS_MPS[unit]
