"""Spellings of units as people and loggers write them, and what one of each is in SI.

Unit texts come in lower case without blanks, as `gearfit.importers.common.headers` cuts them out of a header.
"""

from __future__ import annotations

import math
import re
from typing import Final

from gearfit.units import METRE_PER_MILE, SECONDS_PER_MINUTE, SPEED_UNIT_LABELS, SPEED_UNITS_MPS

#: Spellings of speed units ("per" is written "/") -> key of `SPEED_UNITS_MPS`.
SPEED_SPELLINGS: Final[dict[str, str]] = {
    **dict.fromkeys(
        ("kmh", "km/h", "kph", "kmph", "km/hr", "kmh-1", "km/u", "km/std", "kilometers/hour", "kilometres/hour"), "kmh"
    ),
    **dict.fromkeys(("mph", "mi/h", "miles/h", "miles/hour"), "mph"),
    **dict.fromkeys(("mps", "m/s", "meters/second", "metres/second"), "mps"),
    **dict.fromkeys(("meters/sec", "metres/sec", "ms-1"), "mps"),
    **dict.fromkeys(("kn", "kt", "kts", "knot", "knots"), "knot"),
    **dict.fromkeys(("ftps", "ft/s", "fps", "feet/second"), "ftps"),
}
#: Spellings of time units -> seconds in one of them.
TIME_SPELLINGS: Final[dict[str, float]] = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1.0),
    **dict.fromkeys(("ds", "decisecond", "deciseconds"), 0.1),
    **dict.fromkeys(("cs", "centisecond", "centiseconds"), 0.01),
    **dict.fromkeys(("ms", "msec", "millis", "millisecond", "milliseconds"), 1e-3),
    **dict.fromkeys(("us", "usec", "micros", "microseconds", "µs", "μs"), 1e-6),
    **dict.fromkeys(("ns", "nsec", "nanos", "nanoseconds"), 1e-9),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), 60.0),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 3600.0),
    **dict.fromkeys(("d", "day", "days"), 86_400.0),
}
LENGTH_SPELLINGS: Final[dict[str, float]] = {
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), 1.0),
    **dict.fromkeys(("ft", "feet"), 0.3048),
    **dict.fromkeys(("km", "kilometer", "kilometers", "kilometre", "kilometres"), 1000.0),
    **dict.fromkeys(("mi", "mile", "miles"), METRE_PER_MILE),
}
RPM_SPELLINGS: Final = frozenset(
    (
        *("rpm", "1/min", "min-1", "/min", "rev/min", "r/min", "revs/min", "revolutions/minute"),
        *(
            "u/min",
            "upm",
            "tr/min",
            "trs/min",
            "tours/min",
            "t/min",
            "giri/min",
            "omw/min",
            "toeren/min",
            "obr/min",
            "ot/min",
            "varv/min",
            "omdr/min",
            "r.p.m",
        ),
    )
)
THOUSANDS: Final = frozenset(("krpm", "x1000", "x1000rpm", "rpmx1000", "1000rpm", "rpm/1000", "×1000", "x1000r/min"))
#: Spellings of other units of engine speed -> label, and rev/min in one of them (1 rev = 2 pi rad = 360 degrees).
TURN_SPELLINGS: Final[dict[str, tuple[str, float]]] = {
    **dict.fromkeys(("hz", "1/s", "s-1", "rps", "rev/s", "r/s", "revs/s", "rev/sec"), ("rev/s", SECONDS_PER_MINUTE)),
    **dict.fromkeys(("rad/s", "rads", "rad/sec", "rads-1"), ("rad/s", SECONDS_PER_MINUTE / (2 * math.pi))),
    **dict.fromkeys(("deg/s", "°/s", "deg/sec"), ("deg/s", SECONDS_PER_MINUTE / 360)),
}
ANGLE_SPELLINGS: Final[dict[str, tuple[str, float]]] = {
    **dict.fromkeys(("deg", "degree", "degrees", "°", "decimaldegrees", "decimal", "wgs84"), ("degrees", 1.0)),
    **dict.fromkeys(("rad", "radian", "radians"), ("rad", 180 / math.pi)),
}
#: What stands for times of a clock, so that there is no unit.
CLOCK_UNITS: Final = ("utc", "unix", "epoch", "gmt")
_SINCE_1970: Final = re.compile(
    r"(?:unix|epoch|posix)(?:time(?:stamp)?)?(?:s|sec|seconds|ms|millis|milliseconds|us|µs|ns)?"
)
_FORM_OF_TIME: Final = re.compile(
    r".*:.*|.*(?:yyyy|yy-?mm-?dd|dd[./-]mm|mm[./-]dd).*|(?:utc|gmt)[+-].*|24h|12h|am/pm|iso-?(?:8601)?|local(?:time)?"
    r"|c?e[sd]?t|[ew]?es?t|[pm][sd]t|bst|jst|ist|msk|clock|timeofday|elapsed|relative|(?:since)?start|total|session"
)
#: What may stand behind a unit of time: "seconds since start".
_SINCE: Final = re.compile(r"(?<=.)(?:since|from|after).*")
#: What says that there is none: "rpm [-]".
_NO_UNIT: Final = frozenset(("", "-", "--", "n/a", "none"))
_TIMES: Final = "[x×*]"
_SCALED: Final = re.compile(
    rf"(?P<times>{_TIMES})?(?P<part>1/)?(?P<number>[0-9]+(?:[.,][0-9]+)?){_TIMES}?(?P<unit>.*)"
    rf"|(?P<unit_first>[^0-9]*?)(?P<by>{_TIMES}|/)(?P<factor>[0-9]+)"
)
_LENGTH_LABELS: Final = {1.0: "m", 0.3048: "ft", 1000.0: "km", METRE_PER_MILE: "mi"}
_TIME_LABELS: Final = {
    **{1.0: "s", 0.1: "0.1 s", 0.01: "0.01 s", 1e-3: "ms", 1e-6: "µs", 1e-9: "ns"},
    **{60.0: "min", 3600.0: "h", 86_400.0: "days"},
}
_SPEEDS: Final = frozenset(("speed_mps", "indicated_mps", "from_mps", "to_mps"))
#: Per quantity: how it is called, which units are allowed, and what to write.
_SPEED_ALLOWED: Final = "km/h, mph, m/s, knots and ft/s"
_TIME_ALLOWED: Final = "days, h, min, s, 0.1 s, cs, ms, µs and ns"
_RPM_ALLOWED: Final = "rpm, x100, x1000, Hz (turns a second), rad/s and deg/s"


def is_unit(text: str) -> bool:
    """Whether a text is a unit of speed, engine speed, time or length."""
    text = _plain(text)
    known = (SPEED_SPELLINGS, TIME_SPELLINGS, LENGTH_SPELLINGS, THOUSANDS, TURN_SPELLINGS)
    if any(text in spellings for spellings in known) or text in (*CLOCK_UNITS, "rpm"):
        return True
    scaled = re.fullmatch(rf"{_TIMES}[0-9]+", text)
    return scaled is not None


def is_known(channel: str, unit: str) -> bool:
    """Whether a unit that a header states is one of its quantity; true of channels that have none."""
    return (
        _quantity(channel) == ""
        or _plain(unit) in _NO_UNIT
        or (channel == "time_s" and _no_unit_of_time(unit))
        or _found(channel, unit) is not None
    )


def unit_of(channel: str, unit: str) -> tuple[str | None, float]:
    """Return the unit's label and its SI value; label None where a needed unit is missing or unknown."""
    found = None if channel == "time_s" and _no_unit_of_time(unit) else _found(channel, unit)
    if found is not None:
        return found
    if channel == "time_s":
        text = _plain(unit)
        return ("utc", 1.0) if text in CLOCK_UNITS or _SINCE_1970.fullmatch(text) else (None, 1.0)
    if channel == "engine_rpm":
        return "rpm", 1.0
    if channel == "elevation_m":
        return "m", 1.0
    if channel in _SPEEDS or channel.startswith("odometer_"):
        return None, 1.0
    return ("degrees" if channel.endswith("_deg") else ""), 1.0


def allowed(channel: str) -> str:
    """Say which units a quantity may have: "unit of speed that is known; allowed are km/h, ..."."""
    units = {"speed": _SPEED_ALLOWED, "time": _TIME_ALLOWED, "engine speed": _RPM_ALLOWED, "angle": "degrees and rad"}
    quantity = _quantity(channel)
    return f"unit of {quantity} that is known; allowed are {units.get(quantity, 'km, mi, m and ft')}"


def _quantity(channel: str) -> str:
    if channel in _SPEEDS:
        return "speed"
    if channel.endswith("_deg"):
        return "angle"
    if channel == "elevation_m" or channel.startswith("odometer_"):
        return "length"
    return {"time_s": "time", "engine_rpm": "engine speed"}.get(channel, "")


def _plain(unit: str) -> str:
    return unit.replace("^", "").replace("⁻¹", "-1").replace("·", "").replace("per", "/").rstrip(".")


def _no_unit_of_time(unit: str) -> bool:
    text = _plain(unit)
    return text in CLOCK_UNITS or bool(_SINCE_1970.fullmatch(text)) or bool(_FORM_OF_TIME.fullmatch(text))


def _found(channel: str, unit: str) -> tuple[str, float] | None:
    """Return label and SI value of a unit, or of so many of it ("0.1 s", "x100"); None where it is unknown."""
    text = _plain(unit)
    if channel == "time_s":
        text = _SINCE.sub("", text)
    plain = _single(_quantity(channel), text)
    if plain is not None:
        return plain
    scaled = _SCALED.fullmatch(text)
    if scaled is None or (scaled["by"] == "/" and channel != "engine_rpm"):
        return None
    times = float((scaled["number"] or scaled["factor"]).replace(",", "."))
    if times == 0.0:
        return None
    times = 1.0 / times if scaled["part"] else times
    named = scaled["unit"] or scaled["unit_first"] or ""
    if not named and channel == "engine_rpm" and (scaled["times"] or scaled["by"] not in (None, "/")):
        named = "rpm"
    single = _single(_quantity(channel), named)
    return None if single is None else (f"{times:g} {single[0]}", times * single[1])


def _single(quantity: str, text: str) -> tuple[str, float] | None:
    if quantity == "speed":
        key = SPEED_SPELLINGS.get(text)
        return None if key is None else (SPEED_UNIT_LABELS[key], SPEED_UNITS_MPS[key])
    if quantity == "time":
        seconds = TIME_SPELLINGS.get(text)
        return None if seconds is None else (_TIME_LABELS[seconds], seconds)
    if quantity == "length":
        metres = LENGTH_SPELLINGS.get(text)
        return None if metres is None else (_LENGTH_LABELS[metres], metres)
    if quantity == "engine speed":
        if text in RPM_SPELLINGS or text in THOUSANDS:
            return ("1000 rpm", 1000.0) if text in THOUSANDS else ("rpm", 1.0)
        return TURN_SPELLINGS.get(text)
    return ANGLE_SPELLINGS.get(text) if quantity == "angle" else None
