"""What a column header means: channel, unit and factor to SI."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from gearfit.units import METRE_PER_MILE, SPEED_UNIT_LABELS, SPEED_UNITS_MPS

#: Spellings of speed units, blanks removed -> key of `SPEED_UNITS_MPS`.
SPEED_SPELLINGS: Final[dict[str, str]] = {
    **dict.fromkeys(("kmh", "km/h", "kph", "kmph", "km/hr", "kilometers/hour", "kilometres/hour"), "kmh"),
    **dict.fromkeys(("kilometersperhour", "kilometresperhour", "kmh-1"), "kmh"),
    **dict.fromkeys(("mph", "mi/h", "miles/h", "miles/hour", "milesperhour"), "mph"),
    **dict.fromkeys(("mps", "m/s", "meters/second", "metres/second", "meterspersecond", "metrespersecond"), "mps"),
    **dict.fromkeys(("meters/sec", "metres/sec", "ms-1"), "mps"),
    **dict.fromkeys(("kn", "kt", "kts", "knot", "knots"), "knot"),
    **dict.fromkeys(("ftps", "ft/s", "fps", "feet/second", "feetpersecond"), "ftps"),
}
#: Spellings of time units -> seconds in one of them.
TIME_SPELLINGS: Final[dict[str, float]] = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1.0),
    **dict.fromkeys(("ms", "msec", "millis", "millisecond", "milliseconds"), 1e-3),
    **dict.fromkeys(("us", "usec", "micros", "microseconds", "µs", "μs"), 1e-6),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), 60.0),
}
LENGTH_SPELLINGS: Final[dict[str, float]] = {
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), 1.0),
    **dict.fromkeys(("ft", "feet"), 0.3048),
    **dict.fromkeys(("km", "kilometer", "kilometers", "kilometre", "kilometres"), 1000.0),
    **dict.fromkeys(("mi", "mile", "miles"), METRE_PER_MILE),
}
_LENGTH_LABELS: Final = {1.0: "m", 0.3048: "ft", 1000.0: "km", METRE_PER_MILE: "mi"}
RPM_SPELLINGS: Final = frozenset(("rpm", "1/min", "min-1", "rev/min", "r/min", "revs/min", "u/min", "upm", "tr/min"))
THOUSANDS: Final = frozenset(("krpm", "x1000", "x1000rpm", "rpmx1000", "1000rpm", "rpm/1000", "×1000", "x1000r/min"))
#: Words that make a column something else than the reading itself.
_NOT_THE_READING: Final = frozenset(
    "source limit wind fan vertical climb accuracy error sd std min max minimum maximum average avg mean pump turbine "  # noqa: SIM905
    "target requested desired idle turbo shaft ratio lap trip dilution limiter status valid age".split()
)
#: Words for the moment of a sample.
TIME_WORDS: Final = frozenset(("time", "timestamp", "datetime", "elapsed"))
_CLOCK_UNITS: Final = ("utc", "unix", "epoch", "gmt")
#: What programs append to a header that is there already: "Time.1".
_COPY_NUMBER: Final = re.compile(r"(?<=[^\d.])\.\d{1,2}$")
#: Units that people write as the whole header of a column of speeds.
_UNIT_AS_HEADER: Final = frozenset(("kmh", "km/h", "kph", "kmph", "mph", "mi/h"))
#: Words that may stand beside "gear".
_GEAR_WORDS: Final = frozenset(("gear", "stated", "number", "no", "current", "position", "used", "selected", "in"))
#: A cell of more words or letters is a sentence, not a header.
_MOST_WORDS, _MOST_LETTERS = 5, 100
#: Words of a column of raw OBD-II answers, of the columns of a log with one channel a row.
_RAW_WORDS: Final = frozenset(("raw", "hex", "response", "answer", "bytes"))
_SIGNAL_WORDS: Final = frozenset(("signal", "channel", "parameter"))
#: Channels by first choice: a receiver's own speed before a plain one before one from wheel or gearbox.
_RECEIVER_WORDS: Final = frozenset(("gps", "gnss", "receiver"))
_WHEEL_WORDS: Final = frozenset(("wheel", "vehicle", "obd", "ecu", "can", "sensor", "abs"))


@dataclass(frozen=True)
class Meaning:
    """What one header means.

    Attributes
    ----------
    header : str
        Header as written.
    channel : str
        Column of the sample table or of the table of runs, or "repeat".
    unit : str or None
        Unit as shown to people; None where the channel needs one and the header states none.
    factor : float
        SI value of one unit as written.
    rank : int
        Smaller is preferred where several columns have one channel.
    """

    header: str
    channel: str
    unit: str | None
    factor: float
    rank: int


def read_header(header: str) -> Meaning | None:
    """Return what a header means, or None where gearfit has no use for that column."""
    if len(header) > _MOST_LETTERS:
        return None
    words, unit = _split(header)
    kept = set(words)
    if not kept or len(words) > _MOST_WORDS or kept & _NOT_THE_READING:
        return None
    channel = _channel(words, unit)
    if channel is None:
        return None
    label, factor = unit_of(channel, unit)
    receiver, wheel = bool(kept & _RECEIVER_WORDS), bool(kept & _WHEEL_WORDS)
    rank = (0 if receiver else 2 if wheel else 1) if channel == "speed_mps" else 0
    if channel == "time_s":
        rank = 0 if unit == "utc" else 1
    return Meaning(header, channel, label, factor, rank)


def unit_written(header: str) -> str:
    """Return the unit that a header states, in lower case without blanks; "" where it states none."""
    return _split(header)[1]


def words_of(header: str) -> list[str]:
    """Return the words of a header in lower case, its unit left out."""
    return _split(header)[0]


def without_copy_number(header: str) -> str:
    """Return a header without the number that tells it from an equal one ("Time.1")."""
    return _COPY_NUMBER.sub("", header.strip().strip("\"'"))


def _split(header: str) -> tuple[list[str], str]:
    """Split a header into lower-case words and its unit ("" where none is written)."""
    text = without_copy_number(header)
    bracket = re.search(r"[(\[{]\s*([^()\[\]{}]*?)\s*[)\]}]\s*$", text)
    body = text[: bracket.start()] if bracket else text
    body = re.sub(r"(?<=[a-z])(?=[A-Z][a-z])|(?<=[A-Z])(?=[A-Z][a-z])", " ", body)
    words = [word for word in re.split(r"[\s_.,:()#\-]+", body.lower()) if word]
    if bracket:
        return words, re.sub(r"\s+", "", bracket.group(1).lower())
    if len(words) == 1 and words[0] in _UNIT_AS_HEADER:
        return ["speed"], words[0]
    for count in (3, 2, 1):
        tail = "".join(words[-count:])
        if len(words) > count and _is_unit(tail):
            return words[:-count], tail
    if words and (words[-1] in RPM_SPELLINGS or words[-1] in THOUSANDS):
        return words, words[-1]
    return words, ""


def _is_unit(text: str) -> bool:
    known = (SPEED_SPELLINGS, TIME_SPELLINGS, LENGTH_SPELLINGS, THOUSANDS)
    return any(text in spellings for spellings in known) or text in (*_CLOCK_UNITS, "rpm")


def is_unit_text(text: str) -> bool:
    """Whether a cell holds a unit of speed, engine speed or time and nothing else (a row of units)."""
    bare = re.sub(r"[\s()\[\]]+", "", text.lower())
    return _is_unit(bare) or bare in RPM_SPELLINGS


def _channel(words: list[str], unit: str) -> str | None:
    kept = set(words)
    if words[0] in ("from", "to") and (len(words) == 1 or "speed" in kept):
        return f"{words[0]}_mps"
    if _is_time_of_a_channel(words, unit):
        return "time_s"
    if kept & {"indicated", "speedometer", "speedo", "dash"}:
        return "indicated_mps"
    if _is_engine_speed(kept, unit):
        return "engine_rpm"
    if kept & {"speed", "velocity"} or (unit in SPEED_SPELLINGS and kept <= _RECEIVER_WORDS):
        return None if "engine" in kept or unit in RPM_SPELLINGS else "speed_mps"
    if kept <= _GEAR_WORDS and "gear" in kept:
        return "stated_gear"
    return _other_channel(kept)


def _is_time_of_a_channel(words: list[str], unit: str) -> bool:
    """Whether a header such as time_speed_s names the times of a channel."""
    timed = unit in ("", words[-1]) or unit in TIME_SPELLINGS or unit in _CLOCK_UNITS
    return timed and not TIME_WORDS.isdisjoint((words[0], words[-1]))


def _is_engine_speed(kept: set[str], unit: str) -> bool:
    if kept & {"wheel", "output"}:
        return False
    if kept & {"rpm", "krpm", "revs", "tacho", "tachometer"}:
        return True
    spoken = bool(kept & {"speed", "revolutions", "engine"})
    return (spoken and (unit in RPM_SPELLINGS or unit in THOUSANDS)) or ({"engine", "speed"} <= kept and unit == "")


def _other_channel(kept: set[str]) -> str | None:
    if kept & {"odometer", "odo"}:
        return next((f"odometer_{word}_m" for word in ("start", "end", "true") if word in kept), None)
    if "obd" in kept and kept & _RAW_WORDS:
        return "obd"
    if len(kept) == 1 and kept & _SIGNAL_WORDS:
        return "signal"
    if len(kept) == 1 and kept & {"value", "unit", "date"}:
        return next(iter(kept))
    named = (
        ("latitude_deg", {"lat", "latitude"}),
        ("longitude_deg", {"lon", "long", "lng", "longitude"}),
        ("elevation_m", {"elevation", "ele", "altitude", "alt", "height"}),
        ("repeat", {"repeat"}),
        ("time_s", TIME_WORDS),
    )
    return next((channel for channel, names in named if kept & names), None)


def unit_of(channel: str, unit: str) -> tuple[str | None, float]:
    """Return the unit's label and its SI value; label None where a needed unit is missing or unknown."""
    if channel in ("speed_mps", "indicated_mps", "from_mps", "to_mps"):
        key = SPEED_SPELLINGS.get(unit)
        return (None, 1.0) if key is None else (SPEED_UNIT_LABELS[key], SPEED_UNITS_MPS[key])
    if channel == "engine_rpm":
        return ("1000 rpm", 1000.0) if unit in THOUSANDS else ("rpm", 1.0)
    if channel == "time_s":
        if unit in TIME_SPELLINGS:
            return {1.0: "s", 1e-3: "ms", 1e-6: "µs", 60.0: "min"}[TIME_SPELLINGS[unit]], TIME_SPELLINGS[unit]
        return ("utc", 1.0) if unit in _CLOCK_UNITS else (None, 1.0)
    if channel == "elevation_m":
        factor = LENGTH_SPELLINGS.get(unit, 1.0)
        return _LENGTH_LABELS[factor], factor
    if channel.startswith("odometer_"):
        length = LENGTH_SPELLINGS.get(unit)
        return (None, 1.0) if length is None else (_LENGTH_LABELS[length], length)
    return ("degrees" if channel.endswith("_deg") else ""), 1.0
