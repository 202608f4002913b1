"""What a column header means: channel, unit and factor to SI."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Final

from gearfit.importers.common.unit_spellings import (
    RPM_SPELLINGS,
    SPEED_SPELLINGS,
    THOUSANDS,
    TIME_SPELLINGS,
    allowed,
    is_known,
    is_unit,
    unit_of,
)

#: Words that make a column something else than the reading itself.
_NOT_THE_READING: Final = frozenset(
    "source limit wind fan vertical climb accuracy error sd std min max minimum maximum average avg mean pump turbine "  # noqa: SIM905
    "target requested desired idle turbo shaft ratio lap trip dilution limiter status valid age".split()
)
#: Words for the moment of a sample.
TIME_WORDS: Final = frozenset(("time", "timestamp", "datetime", "elapsed"))
#: What programs append to a header that is there already: "Time.1".
_COPY_NUMBER: Final = re.compile(r"(?<=[^\d.])\.\d{1,2}$")
#: Units that people write as the whole header of a column of speeds.
_UNIT_AS_HEADER: Final = frozenset(("kmh", "km/h", "kph", "kmph", "mph", "mi/h"))
#: Words that may stand beside "gear".
_GEAR_WORDS: Final = frozenset(("gear", "stated", "number", "no", "current", "position", "used", "selected", "in"))
_BRACKET: Final = re.compile(r"[(\[{]\s*([^()\[\]{}]*?)\s*[)\]}]\s*$")
#: Words of headers in German, French, Spanish, Italian and Dutch, without accents -> the English one. A word with two
#: meanings (vitesse: speed or gear) has the one that its unit, or the lack of one, leaves.
_TRANSLATED: Final = {
    **dict.fromkeys(("gang", "gange", "rapport", "marcia", "marce", "marcha", "marchas", "versnelling"), "gear"),
    **dict.fromkeys(("geschwindigkeit", "velocidad", "velocita", "snelheid", "vitesse"), "speed"),
    **dict.fromkeys(("drehzahl", "motordrehzahl", "regime", "revoluciones", "giri", "toerental", "toeren"), "rpm"),
    **dict.fromkeys(("zeit", "uhrzeit", "temps", "heure", "tiempo", "hora", "tempo", "ora", "tijd"), "time"),
    **dict.fromkeys(("tachoanzeige", "anzeige", "compteur", "velocimetro", "tachimetro", "teller"), "indicated"),
    **dict.fromkeys(("kilometerteller", "tachostand"), "odometer"),
    **dict.fromkeys(("von", "desde", "van"), "from"),
    **dict.fromkeys(("bis", "hasta", "tot"), "to"),
}
#: A cell of more words or letters is a sentence, not a header.
_MOST_WORDS, _MOST_LETTERS = 5, 100
#: Words of a column of raw OBD-II answers, of the columns of a log with one channel a row.
_RAW_WORDS: Final = frozenset(("raw", "hex", "response", "answer", "bytes"))
_SIGNAL_WORDS: Final = frozenset(("signal", "channel", "parameter"))
#: Channels by first choice: a receiver's own speed before a plain one before one from wheel or gearbox.
_RECEIVER_WORDS: Final = frozenset(("gps", "gnss", "receiver", "satellite", "satnav", "sat", "navi", "doppler"))
#: Words for the speed that a dash is held against.
_TRUE_WORDS: Final = frozenset(("true", "actual", "real", "echt", "reale", "reel", "werkelijk", "tatsachlich"))
_MACHINE_WORDS: Final = frozenset(
    ("wheel", "vehicle", "obd", "obd2", "obdii", "ecu", "ecm", "can", "sensor", "abs", "vss")
)
#: What may stand in brackets without being a unit: "Speed (GPS)", "RPM (engine)", "Speed (rear wheel)".
_REMARKS: Final = frozenset(
    (
        *_RECEIVER_WORDS,
        *_MACHINE_WORDS,
        *("engine", "motor", "crank", "crankshaft", "tacho", "tachometer", "speed", "dash", "indicated", "speedometer"),
        *("front", "rear", "raw", "hex"),
    )
)


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
    kind : str
        Whose speed it is as far as the header says: "receiver", "machine" or "".
    fault : str
        What is wrong with the unit that the header states ("" where nothing is).
    """

    header: str
    channel: str
    unit: str | None
    factor: float
    rank: int
    kind: str = ""
    fault: str = ""


@dataclass(frozen=True)
class Parts:
    """A header taken apart: lower-case words, its unit ("" where none is written), further units beside it."""

    words: list[str]
    unit: str
    others: tuple[str, ...] = ()


def read_header(header: str) -> Meaning | None:
    """Return what a header means, or None where gearfit has no use for that column."""
    if len(header) > _MOST_LETTERS:
        return None
    parts = parts_of(header)
    kept = set(parts.words)
    if not kept or len(parts.words) > _MOST_WORDS or kept & _NOT_THE_READING:
        return None
    channel = _channel(parts.words, parts.unit)
    if channel is None:
        return None
    label, factor = unit_of(channel, parts.unit)
    kind = kind_of(parts.words)
    rank = {"receiver": 0, "": 1, "machine": 2}[kind] if channel == "speed_mps" else 0
    if channel == "time_s":
        rank = 0 if label == "utc" else 1
    return Meaning(header, channel, label, factor, rank, kind, fault_of(channel, parts))


def kind_of(words: list[str]) -> str:
    """Tell whose speed the words of a header speak of: "receiver", "machine" or "" (not said)."""
    kept = set(words)
    return "receiver" if kept & _RECEIVER_WORDS else "machine" if kept & _MACHINE_WORDS else ""


def fault_of(channel: str, parts: Parts) -> str:
    """Say what is wrong with the unit that a header states; "" where nothing is."""
    if not is_known(channel, parts.unit):
        return f"{parts.unit!r} is no {allowed(channel)}"
    said = unit_of(channel, parts.unit)
    for other in parts.others:
        if said[0] not in (None, "utc") and is_known(channel, other) and unit_of(channel, other) != said:
            return f"the header states two units, {other!r} and {parts.unit!r}; allowed is one"
    return ""


def words_of(header: str) -> list[str]:
    """Return the words of a header in lower case, its unit left out."""
    return parts_of(header).words


def without_copy_number(header: str) -> str:
    """Return a header without the number that tells it from an equal one ("Time.1")."""
    return _COPY_NUMBER.sub("", header.strip().strip("\"'"))


def parts_of(header: str) -> Parts:
    """Take a header apart into words and units.

    Brackets at the end hold the unit, or a remark that belongs to the words; a unit may also stand bare at the end.
    """
    text = without_copy_number(header)
    units: list[str] = []
    remarks: list[str] = []
    while bracket := _BRACKET.search(text):
        inside = [piece.strip() for piece in re.split("[,;]", bracket.group(1).lower())]
        said = [piece for piece in inside if not _REMARKS.issuperset(piece.split())]
        said = [re.sub(r"\s+", "", piece) for piece in said if piece not in ("-", "--")]
        if units and not all(map(is_unit, said)):
            break
        remarks += [word for piece in inside if _REMARKS.issuperset(piece.split()) for word in piece.split()]
        units += said
        text = text[: bracket.start()]
    body = re.sub(r"(?<=[a-z])(?=[A-Z][a-z])|(?<=[A-Z])(?=[A-Z][a-z])", " ", text)
    words = [_english(word) for word in re.split(r"[\s_.,:()#\-]+", body.lower()) if word]
    bare, tail = _bare_unit(words)
    if not units:
        return Parts([*bare, *remarks], tail)
    if not tail or tail in RPM_SPELLINGS:  # "rpm" is the word for the quantity, too
        return Parts([*words, *remarks], units[0], tuple(units[1:]))
    both_of_one = any(tail in known and units[0] in known for known in (SPEED_SPELLINGS, TIME_SPELLINGS))
    return Parts([*(bare if both_of_one else words), *remarks], units[0], (*units[1:], tail))


def _english(word: str) -> str:
    if word.isascii() and word not in _TRANSLATED:
        return word
    apart = unicodedata.normalize("NFKD", word)
    return _TRANSLATED.get("".join(letter for letter in apart if not unicodedata.combining(letter)), word)


def _bare_unit(words: list[str]) -> tuple[list[str], str]:
    """Part the unit at the end of a header without brackets from its words."""
    if len(words) == 1 and words[0] in _UNIT_AS_HEADER:
        return ["speed"], words[0]
    for count in (3, 2, 1):
        tail = "".join(words[-count:])
        if len(words) > count and is_unit(tail) and words[-count - 1] != "of":
            return words[:-count], tail
    if words and (words[-1] in RPM_SPELLINGS or words[-1] in THOUSANDS):
        return words, words[-1]
    return words, ""


def is_unit_text(text: str) -> bool:
    """Whether a cell holds a unit of speed, engine speed or time and nothing else (a row of units)."""
    bare = re.sub(r"[\s()\[\]]+", "", text.lower())
    return is_unit(bare) or bare in RPM_SPELLINGS


def _channel(words: list[str], unit: str) -> str | None:
    kept = set(words)
    if words[0] in ("from", "to") and (len(words) == 1 or "speed" in kept):
        return f"{words[0]}_mps"
    if _is_time_of_a_channel(words, unit):
        return "time_s"
    if kept & {"indicated", "speedometer", "speedo", "dash"} or (kept == {"tacho"} and unit in SPEED_SPELLINGS):
        return "indicated_mps"
    if _is_engine_speed(kept, unit):
        return "engine_rpm"
    if kept & {"speed", "velocity"} or (unit in SPEED_SPELLINGS and kept <= _RECEIVER_WORDS | _TRUE_WORDS):
        return None if "engine" in kept or unit in RPM_SPELLINGS else "speed_mps"
    if kept <= _GEAR_WORDS and "gear" in kept:
        return "stated_gear"
    return _other_channel(kept)


def _is_time_of_a_channel(words: list[str], unit: str) -> bool:
    """Whether a header such as time_speed_s names the times of a channel."""
    timed = unit in ("", words[-1]) or is_known("time_s", unit)
    return timed and not TIME_WORDS.isdisjoint((words[0], words[-1]))


def _is_engine_speed(kept: set[str], unit: str) -> bool:
    if kept & {"wheel", "output"}:
        return False
    if kept & {"rpm", "krpm", "revs", "tacho", "tachometer"} or (kept == {unit} and unit in RPM_SPELLINGS):
        return True
    if {"engine", "speed"} <= kept:
        return unit not in SPEED_SPELLINGS
    return bool(kept & {"speed", "revolutions", "engine"}) and (unit in RPM_SPELLINGS or unit in THOUSANDS)


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
