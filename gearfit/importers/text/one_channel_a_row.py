"""Logs that write one channel in each row: time, name of the channel, value."""

from __future__ import annotations

from dataclasses import replace

from gearfit.importers.common.named import meaning_of
from gearfit.importers.common.table import Table
from gearfit.machine.bike import ColumnNames

#: More channels than this are no names of channels.
_MOST_CHANNELS = 1000


def with_channels_as_columns(table: Table, names: ColumnNames) -> Table:
    """Return the table with one column for each channel that gearfit uses; as it is where it has no such form."""
    places = {meaning.channel: number for number, meaning in enumerate(table.meanings) if meaning is not None}
    if not {"time_s", "signal", "value"} <= places.keys() or {"speed_mps", "engine_rpm"} & places.keys():
        return table
    signals, values = table.cells[places["signal"]], table.cells[places["value"]]
    distinct = signals.unique()
    if len(distinct) > _MOST_CHANNELS:
        return table
    units = table.cells[places["unit"]] if "unit" in places else None
    cells = table.cells.copy()
    meanings = [
        None if meaning is None or meaning.channel in ("signal", "value", "unit") else meaning
        for meaning in table.meanings
    ]
    unused = 0
    for signal in distinct:
        rows = signals == signal
        unit = "" if units is None else next((text for text in units[rows] if text), "")
        meaning = meaning_of(f"{signal} [{unit}]" if unit else signal, names)
        if meaning is None or meaning.channel in ("time_s", "date"):
            unused += 1
            continue
        cells[len(meanings)] = values.where(rows, "")
        meanings.append(meaning)
    note = f"{unused} other channel{'' if unused == 1 else 's'} not used."
    return replace(table, meanings=tuple(meanings), cells=cells, notes=table.notes + ((note,) if unused else ()))
