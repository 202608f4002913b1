"""Units that headers state: known, or refused; a column of no need is left aside instead."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from gearfit.errors import UnitError
from gearfit.importers.common.cells import missing
from gearfit.importers.common.headers import Meaning
from gearfit.importers.common.table import Table

#: Channels without which a file tells something else, and what to write as the header.
_NEEDED: Final = {
    "time_s": "time_s, time_ms or time_min",
    "speed_mps": "speed_kmh or speed_mph (or speed_mps)",
    "indicated_mps": "indicated_kmh or indicated_mph",
    "from_mps": "from_kmh or from_mph (or from_mps)",
    "to_mps": "to_kmh or to_mph (or to_mps)",
    "engine_rpm": "rpm, rpm_x100, rpm_x1000 or rpm (rad/s)",
    **{f"odometer_{end}_m": f"odometer_{end}_km or odometer_{end}_mi" for end in ("start", "end", "true")},
}


def with_known_units(table: Table) -> Table:
    """Return the table without columns whose header states an unknown unit, or two of them; each is noted.

    Raises
    ------
    UnitError
        No column of a channel that is needed has a unit that is known.
    """
    faulty = {n: meaning for n, meaning in enumerate(table.meanings) if meaning is not None and meaning.fault}
    if not faulty:
        return table
    for number, meaning in faulty.items():
        if meaning.channel in _NEEDED and not missing(table.cells[number]).all() and not _has_other(table, meaning):
            raise UnitError(
                f"{table.name}, column {meaning.header!r}",
                meaning.fault,
                f"Write {_NEEDED[meaning.channel]} as the header, with the values in that unit",
            )
    notes = tuple(f"Column {meaning.header!r} is not used: {meaning.fault}." for meaning in faulty.values())
    kept = tuple(None if n in faulty else meaning for n, meaning in enumerate(table.meanings))
    return replace(table, meanings=kept, notes=table.notes + notes)


def _has_other(table: Table, faulty: Meaning) -> bool:
    """Whether another filled column of the same channel states its unit well."""
    return any(
        meaning is not None
        and meaning.channel == faulty.channel
        and not meaning.fault
        and not missing(table.cells[number]).all()
        for number, meaning in enumerate(table.meanings)
    )
