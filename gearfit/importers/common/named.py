"""Headers in the rider's own words, as [columns] of bike.toml gives them."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from typing import Final

from gearfit.importers.common.headers import Meaning, fault_of, kind_of, parts_of, read_header, without_copy_number
from gearfit.importers.common.unit_spellings import unit_of
from gearfit.machine.bike import ColumnNames

#: Key of [columns] -> channel, and the key of its unit.
_CHANNELS: Final = {
    "time": ("time_s", "time_unit"),
    "date": ("date", ""),
    "speed": ("speed_mps", "speed_unit"),
    "indicated": ("indicated_mps", "indicated_unit"),
    "rpm": ("engine_rpm", ""),
    "gear": ("stated_gear", ""),
    "latitude": ("latitude_deg", ""),
    "longitude": ("longitude_deg", ""),
    "elevation": ("elevation_m", "elevation_unit"),
    "obd": ("obd", ""),
}
#: Channel -> key of its unit.
_UNIT_KEYS: Final = {channel: unit_key for channel, unit_key in _CHANNELS.values() if unit_key}
#: A column that the rider named comes before every other.
_NAMED_RANK: Final = -1
#: Longest header that bike.toml may name, with room for a unit.
_LONGEST: Final = 250
_BRACKET: Final = re.compile(r"\s*[(\[{][^()\[\]{}]*[)\]}]\s*$")


@lru_cache(maxsize=4096)
def meaning_of(header: str, names: ColumnNames) -> Meaning | None:
    """Return what a header means: by the rider's own names, else by its words; None where it has no use.

    A unit of [columns] counts where the header states none, or none that is known in a column that the rider named.
    """
    if names == ColumnNames():
        return read_header(header)
    if len(header) > _LONGEST:
        return None
    for key, (channel, unit_key) in _CHANNELS.items():
        name = getattr(names, key)
        if name is not None and _plain(name) in _spellings(header):
            return _named(header, channel, getattr(names, unit_key) if unit_key else None)
    meaning = read_header(header)
    if meaning is None or parts_of(header).unit:
        return meaning
    unit = getattr(names, _UNIT_KEYS.get(meaning.channel, ""), None)
    return meaning if unit is None else _with_unit(meaning, unit)


def _named(header: str, channel: str, unit: str | None) -> Meaning:
    """Return the meaning of a column that the rider named."""
    parts = parts_of(header)
    label, factor = unit_of(channel, parts.unit)
    fault = fault_of(channel, parts)
    meaning = Meaning(header, channel, label, factor, _NAMED_RANK, kind_of(parts.words), fault)
    return _with_unit(meaning, unit) if unit is not None and (not parts.unit or fault) else meaning


def _with_unit(meaning: Meaning, unit: str) -> Meaning:
    label, factor = unit_of(meaning.channel, unit)
    return replace(meaning, unit=label, factor=factor, fault="")


def _spellings(header: str) -> set[str]:
    """Return a header as it stands, without a copy's number, and without its unit."""
    bare = without_copy_number(header)
    return {_plain(text) for text in (header, bare, _BRACKET.sub("", bare))}


def _plain(header: str) -> str:
    return " ".join(header.strip().strip("\"'").casefold().split())
