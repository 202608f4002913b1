"""Which spans are asked for: two speeds, as a person writes them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from gearfit.errors import InputError
from gearfit.records.schema import SPEED_CEILING_MPS
from gearfit.units import MPS_PER_KMH, MPS_PER_MPH, SPEED_UNITS_MPS

#: Such as 0-80kmh, 0 - 80 km/h, 30-60 MPH, with a hyphen or an en dash.
_WRITTEN: Final = re.compile(r"\s*(\d+(?:\.\d+)?)\s*[-\N{EN DASH}]\s*(\d+(?:\.\d+)?)\s*(km/?h|mph)\s*", re.IGNORECASE)
#: Speeds that differ by less than this are one, m/s: 60 mph is 96.6 km/h.
SAME_MPS: Final = 0.05
#: Least width of a span, m/s.
_NARROWEST_MPS: Final = 2.0


@dataclass(frozen=True)
class Span:
    """From one speed to a higher one, m/s; `from_mps` 0 is a standing start."""

    from_mps: float
    to_mps: float

    def same_as(self, other: Span) -> bool:
        """Whether both ends are the same speeds within `SAME_MPS`."""
        return abs(self.from_mps - other.from_mps) < SAME_MPS and abs(self.to_mps - other.to_mps) < SAME_MPS


#: 0-60 mph, 0-100 km/h and 60-100 km/h.
USUAL_SPANS: Final = (
    Span(0.0, 60 * MPS_PER_MPH),
    Span(0.0, 100 * MPS_PER_KMH),
    Span(60 * MPS_PER_KMH, 100 * MPS_PER_KMH),
)


def read_span(text: str) -> Span:
    """Read a span such as "0-80kmh", "0 - 80 km/h" or "30-60 MPH".

    Raises
    ------
    InputError
        It is written otherwise, is narrower than 2 m/s, or ends faster than any road vehicle.
    """
    match = _WRITTEN.fullmatch(text)
    if match is None:
        raise InputError(
            "--span",
            f'found "{text}"; allowed is FROM-TO with kmh or mph, from 0 up',
            "Write it as 0-80kmh or 30-60mph",
        )
    unit_mps = SPEED_UNITS_MPS[match[3].lower().replace("/", "")]
    low, high = (float(speed) * unit_mps for speed in match.groups()[:2])
    if high - low < _NARROWEST_MPS or high > SPEED_CEILING_MPS:
        raise InputError(
            "--span",
            f'found "{text}"; allowed are spans at least 8 km/h (5 mph) wide and below '
            f"{SPEED_CEILING_MPS / MPS_PER_KMH:.0f} km/h",
            "Give the lower speed first and the target second",
        )
    return Span(low, high)


def each_once(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Leave away spans that were asked for before: their runs would count twice."""
    kept: list[Span] = []
    for span in spans:
        if not any(span.same_as(known) for known in kept):
            kept.append(span)
    return tuple(kept)
