"""Hand-timed runs out of delimited text."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.cells import read_numbers
from gearfit.importers.columns import Choice
from gearfit.recording import Recording
from gearfit.schema import SPEED_CEILING_MPS, run_table, sample_table

#: No timed run of a road vehicle lasts longer.
LONGEST_RUN_S = 3600.0


def read_runs(choice: Choice) -> Recording:
    """Read a sheet of timed runs; rows without a complete, possible run are left out and noted."""
    table = choice.table
    limits = {"from_mps": SPEED_CEILING_MPS, "to_mps": SPEED_CEILING_MPS, "time_s": LONGEST_RUN_S}
    values, notes = {}, [*table.notes, *choice.notes]
    for channel, highest in limits.items():
        number, meaning = choice.chosen[channel]
        read = read_numbers(table.cells[number], table.lines, table.name, meaning, 0.0, highest)
        values[channel] = read.values
        notes.extend(read.notes)
    whole = np.isfinite(values["from_mps"]) & np.isfinite(values["to_mps"]) & np.isfinite(values["time_s"])
    usable = whole & (values["to_mps"] > values["from_mps"]) & (values["time_s"] > 0)
    if not usable.any():
        raise LogError(
            f"{table.name}, line {table.lines[0]}",
            "no row holds a run; a run needs a start speed, a higher target speed and a time above 0",
            "Correct the rows",
        )
    notes.extend(_left_out(table.lines[~whole], "a speed or the time missing"))
    notes.extend(_left_out(table.lines[whole & ~usable], "a target speed not above the start, or no time"))
    kept = {channel: array[usable] for channel, array in values.items()}
    return Recording(
        file=table.name,
        kind="timed runs",
        samples=sample_table(table.name, 0),
        runs=run_table(table.name, int(usable.sum()), row=table.lines[usable], **kept),
        clock="none",
        start_s=None,
        speed_source="none",
        speed_step_mps=None,
        rpm_step_rpm=None,
        columns=choice.columns({"time_s": choice.meaning("time_s").unit or "s"}),
        notes=tuple(notes),
    )


def _left_out(lines: NDArray[np.int64], why: str) -> list[str]:
    if not lines.size:
        return []
    rows = "1 row" if lines.size == 1 else f"{lines.size} rows"
    return [f"{rows} with {why} left out (the first is line {lines[0]})."]
