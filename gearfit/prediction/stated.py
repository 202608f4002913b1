"""What a person states in a line: tooth pairs, speeds with a unit, one known pair of speeds."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final, TypeVar

from gearfit.errors import InputError
from gearfit.machine.bike_rules import OVERRIDES, RULES, Rule
from gearfit.prediction.swap import Hold
from gearfit.units import SPEED_UNIT_LABELS, from_mps, to_mps

Value = TypeVar("Value")

_PAIR: Final = re.compile(r"\s*(\d+)\s*[/:\N{EN DASH}-]\s*(\d+)\s*")
_SPEED: Final = r"(?P<speed>\d+(?:[.,]\d+)?)\s*(?P<unit>km/?h|kph|mph)?"
_RPM: Final = r"(?P<rpm>\d+(?:[.,]\d+)?)\s*(?:rpm|rev/min|1/min)"
_ONE_SPEED: Final = re.compile(rf"\s*{_SPEED}\s*", re.IGNORECASE)
_BOTH: Final = tuple(
    re.compile(rf"\s*{first}\s*(?:at|@|,|=|is)?\s*{second}\s*", re.IGNORECASE)
    for first, second in ((_RPM, _SPEED), (_SPEED, _RPM))
)
_UNIT: Final = re.compile(r"km/?h|kph|mph", re.IGNORECASE)
#: Speeds that a road vehicle is ridden at, km/h.
_SPEEDS_KMH: Final = (10, 300)


def checked(option: str, rule: Rule, value: Value | None) -> Value | None:
    """Return the value of an option once it has met its rule; None where it was not given.

    Raises
    ------
    InputError
        It has not; the message names the option.
    """
    if value is None:
        return None
    meets(option, rule, value)
    return value


def meets(option: str, rule: Rule, value: object) -> object:
    """Return what a rule makes of the value of an option; raises as `checked`."""
    try:
        return rule(value)
    except ValueError as error:
        raise InputError(option, str(error), "Correct the value or leave the option out") from None


def unit_written(texts: Iterable[str | None]) -> str:
    """Return the unit of the first speed that states one, else "kmh"."""
    for text in texts:
        found = _UNIT.search(text or "")
        if found is not None:
            return "mph" if found[0].lower() == "mph" else "kmh"
    return "kmh"


def read_pair(option: str, text: str | None) -> tuple[int | None, int | None]:
    """Read a tooth pair such as "14/44", gearbox sprocket first; (None, None) where it was not given.

    Raises
    ------
    InputError
        It is written otherwise, or no sprocket has so many teeth.
    """
    if text is None:
        return None, None
    match = _PAIR.fullmatch(text)
    if match is None:
        raise InputError(
            option,
            f'found "{text}"; allowed are the teeth of both sprockets, gearbox first',
            "Write it as 14/44",
        )
    front, rear = int(match[1]), int(match[2])
    return checked(option, OVERRIDES["front"], front), checked(option, OVERRIDES["rear"], rear)


def read_speed(option: str, text: str, unit: str) -> float:
    """Read a speed [m/s] such as "70mph" or "110 km/h"; a bare number is in `unit`.

    Raises
    ------
    InputError
        It is written otherwise, or is below 10 or above 300 km/h.
    """
    match = _ONE_SPEED.fullmatch(text)
    if match is None:
        raise InputError(option, f'found "{text}"; allowed is a speed in mph or km/h', "Write it as 70mph or 110kmh")
    return _speed_mps(option, match, unit)


def _speed_mps(option: str, match: re.Match[str], unit: str) -> float:
    written = (match["unit"] or unit).lower()
    written = "mph" if written == "mph" else "kmh"
    speed_mps = to_mps(_number(match["speed"]), written)
    if not _SPEEDS_KMH[0] <= round(from_mps(speed_mps, "kmh"), 6) <= _SPEEDS_KMH[1]:
        low, high = (f"{from_mps(to_mps(end, 'kmh'), written):.0f}" for end in _SPEEDS_KMH)
        raise InputError(
            option,
            f'found "{match[0].strip()}"; allowed are {low} to {high} {SPEED_UNIT_LABELS[written]}',
            "Correct the value",
        )
    return speed_mps


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def read_hold(option: str, text: str | None, unit: str) -> Hold | None:
    """Read an engine speed at a road speed, such as "5300 rpm at 70 mph"; None where it was not given.

    Raises
    ------
    InputError
        It is written otherwise, or one of the two cannot be.
    """
    if text is None:
        return None
    match = next((found for form in _BOTH if (found := form.fullmatch(text))), None)
    if match is None:
        raise InputError(
            option,
            f'found "{text}"; allowed is an engine speed in rpm and a road speed in mph or km/h',
            'Write it as "5300 rpm at 70 mph"',
        )
    rpm = _number(match["rpm"])
    checked(option, RULES["wish"]["at_rpm"], rpm)
    return Hold(rpm, _speed_mps(option, match, unit))
