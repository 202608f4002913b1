"""Odometer readings at start and end of rides out of delimited text."""

from __future__ import annotations

from typing import Final

import numpy as np

from gearfit.errors import LogError, UnitError
from gearfit.importers.common.cells import read_numbers
from gearfit.importers.common.written_step import written_step
from gearfit.importers.text.columns import Choice
from gearfit.records.recording import OdometerReading, Recording
from gearfit.records.schema import run_table, sample_table

_CHANNELS: Final = ("odometer_start_m", "odometer_end_m", "odometer_true_m")
#: No odometer shows more.
_MOST_M: Final = 2e9


def read_odometer(choice: Choice) -> Recording:
    """Read a sheet with one ride a row: odometer at the start, at the end, and the true distance where noted.

    Raises
    ------
    LogError
        No row holds a ride.
    UnitError
        A header states no unit of length.
    """
    table = choice.table
    values = {name: np.full(len(table.lines), np.nan) for name in _CHANNELS}
    written: list[np.ndarray[tuple[int], np.dtype[np.float64]]] = []
    notes = [*table.notes, *choice.notes]
    for channel in _CHANNELS:
        if channel not in choice:
            continue
        number, meaning = choice.chosen[channel]
        if meaning.unit is None:
            raise UnitError(
                f"{table.name}, column {meaning.header!r}",
                "the header states no unit of length that is known; allowed are km, mi, m and ft",
                f"Write {channel.removesuffix('_m')}_km or {channel.removesuffix('_m')}_mi as the header",
            )
        read = read_numbers(table.cells[number], table.lines, table.name, meaning, 0.0, _MOST_M)
        values[channel] = read.values
        notes.extend(read.notes)
        if channel != "odometer_true_m":
            written.append(read.values[np.isfinite(read.values)] / meaning.factor)
            factor = meaning.factor
    step_m = (written_step(np.concatenate(written)) or 1.0) * factor
    start, end, true = (values[name] for name in _CHANNELS)
    usable = end > start
    if not usable.any():
        raise LogError(
            f"{table.name}, line {table.lines[0]}",
            "no row holds a ride; allowed is an odometer reading at the start and a higher one at the end",
            "Correct the rows",
        )
    if not usable.all():
        rows = "1 row" if (~usable).sum() == 1 else f"{(~usable).sum()} rows"
        notes.append(
            f"{rows} without a higher reading at the end left out (the first is line {table.lines[~usable][0]})."
        )
    return Recording(
        file=table.name,
        kind="odometer",
        samples=sample_table(table.name, 0),
        runs=run_table(table.name, 0),
        clock="none",
        start_s=None,
        speed_source="none",
        speed_step_mps=None,
        rpm_step_rpm=None,
        columns=choice.columns({}),
        notes=tuple(notes),
        odometer=tuple(
            OdometerReading(
                row=int(table.lines[i]),
                start_m=float(start[i]),
                end_m=float(end[i]),
                step_m=step_m,
                true_m=float(true[i]) if true[i] > 0 else None,
            )
            for i in np.flatnonzero(usable)
        ),
    )
