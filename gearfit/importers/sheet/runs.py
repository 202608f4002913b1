"""Hand-timed runs out of delimited text."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.common.cells import read_numbers
from gearfit.importers.text.columns import Choice
from gearfit.records.recording import Recording
from gearfit.records.schema import SPEED_CEILING_MPS, run_table, sample_table

#: No timed run of a road vehicle lasts longer.
LONGEST_RUN_S = 3600.0
#: A block of fewer runs than these is no copy, nor is one that chance would repeat as often as this.
_FEWEST_RUNS: Final = 3
_ACCIDENT: Final = 0.01


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
    first_s = _repeated_after(np.column_stack([values[channel][usable] for channel in limits]))
    warnings = []
    if first_s is not None:
        again = table.lines[usable][first_s]
        warnings.append(
            f"the runs from line {again} on are the first {first_s} once more, in the same order: they count once. "
            "Remove the copy, or write the times to 0.01 s."
        )
        usable[np.flatnonzero(usable)[first_s:]] = False
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
        warnings=tuple(warnings),
    )


def _repeated_after(runs: NDArray[np.float64]) -> int | None:
    """Return after how many runs the sheet begins anew (a block was pasted twice); None where it does not.

    Whole seconds come again by accident: the block must be long enough that they do so in fewer than 1 of 100 sheets.
    """
    for length in range(_FEWEST_RUNS, runs.shape[0] // 2 + 1):
        if np.array_equal(runs[length:], runs[:-length]):
            distinct = np.unique(runs[:length], axis=0, return_counts=True)[1] / length
            return length if float(np.sum(distinct**2)) ** length < _ACCIDENT else None
    return None


def _left_out(lines: NDArray[np.int64], why: str) -> list[str]:
    if not lines.size:
        return []
    rows = "1 row" if lines.size == 1 else f"{lines.size} rows"
    return [f"{rows} with {why} left out (the first is line {lines[0]})."]
