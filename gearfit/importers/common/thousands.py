"""Engine speeds written with a separator for thousands: "5.000" and "5,000" beside 950."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Final

#: Engine speeds below this are none (rev/min), so that a point or comma before three digits parts off thousands.
NO_ENGINE_RPM: Final = 100.0
_PARTED: Final = re.compile(r"[1-9][0-9]?[.,][0-9]{3}")


def parted(numbers: Sequence[str]) -> dict[int, str]:
    """Return the numbers that hold a separator for thousands, by place, each as it is without it.

    None does where another number lies between 0 and `NO_ENGINE_RPM`, or has decimals: then all are decimals.
    """
    found = {place: re.sub("[.,]", "", text) for place, text in enumerate(numbers) if _PARTED.fullmatch(text)}
    if not found:
        return {}
    for place, text in enumerate(numbers):
        if place in found:
            continue
        value = _value(text)
        if value is not None and value != 0.0 and (abs(value) < NO_ENGINE_RPM or value != int(value)):
            return {}
    return found if all("." not in text and "," not in text for text in _zeros(numbers)) else {}


def _zeros(numbers: Sequence[str]) -> set[str]:
    return {text for text in set(numbers) if _value(text) == 0.0}


def _value(number: str) -> float | None:
    try:
        value = float(number.replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None
