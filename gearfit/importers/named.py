"""Headers in the rider's own words, as [columns] of bike.toml gives them."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

from gearfit.bike import ColumnNames
from gearfit.importers.headers import Meaning, read_header, unit_of, unit_written, without_copy_number

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
#: A column that the rider named comes before every other.
_NAMED_RANK: Final = -1
#: Longest header that bike.toml may name, with room for a unit.
_LONGEST: Final = 250
_BRACKET: Final = re.compile(r"\s*[(\[{][^()\[\]{}]*[)\]}]\s*$")


@lru_cache(maxsize=4096)
def meaning_of(header: str, names: ColumnNames) -> Meaning | None:
    """Return what a header means: by the rider's own names, else by its words; None where it has no use."""
    if names == ColumnNames():
        return read_header(header)
    if len(header) > _LONGEST:
        return None
    for key, (channel, unit_key) in _CHANNELS.items():
        name = getattr(names, key)
        if name is not None and _plain(name) in _spellings(header):
            stated = getattr(names, unit_key) if unit_key else None
            label, factor = unit_of(channel, stated or unit_written(header))
            return Meaning(header, channel, label, factor, _NAMED_RANK)
    return read_header(header)


def _spellings(header: str) -> set[str]:
    """Return a header as it stands, without a copy's number, and without its unit."""
    bare = without_copy_number(header)
    return {_plain(text) for text in (header, bare, _BRACKET.sub("", bare))}


def _plain(header: str) -> str:
    return " ".join(header.strip().strip("\"'").casefold().split())
