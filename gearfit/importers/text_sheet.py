"""Hand-entered sheets out of delimited text: samples of rpm and speed, and held engine speeds."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.cells import parse
from gearfit.importers.channels import read_channels
from gearfit.importers.columns import Choice
from gearfit.importers.sheet_times import SheetTimes
from gearfit.importers.written_step import written_step
from gearfit.recording import Recording
from gearfit.schema import run_table, sample_table

Floats = NDArray[np.float64]

#: People read a dial to the unit, or to five of them where all values are multiples of five.
_COARSE_UNITS: Final = 5.0
#: Distinct values from which multiples of five are no accident (1 in 625).
_DISTINCT_FOR_COARSE: Final = 4
#: Our assumption of how well a person holds a needle: share of the reading; and the coarsest scale of a tachometer.
RPM_HELD_SHARE: Final = 0.005
_COARSEST_RPM: Final = 100.0


def read_sheet(choice: Choice, kind: Literal["samples", "held rpm"], times: SheetTimes | None = None) -> Recording:
    """Read a sheet, without times or with the times at which its rows were held.

    The standard error of a speed is its reading step / sqrt(12) (uniform within the step). That of an engine speed
    is the larger of `RPM_HELD_SHARE` of the reading (an assumption about a person holding a needle: the few round
    values of a sheet say nothing about it) and the step as written, at most 100 rpm, / sqrt(12).

    Raises
    ------
    LogError
        No row holds all that the kind needs.
    """
    table = choice.table
    channels = read_channels(choice)
    values = channels.values()
    needed = [name for name in ("engine_rpm", "speed_mps") if name in values]
    whole = np.logical_and.reduce([np.isfinite(values[name]) for name in needed])
    if not whole.any():
        raise LogError(
            f"{table.name}, line {table.lines[0]}",
            "no row holds every value that it needs",
            f"Fill in {' and '.join(choice.meaning(name).header for name in needed if name in choice)} in each row",
        )
    notes = list(channels.notes)
    if not whole.all():
        notes.append(
            f"{int((~whole).sum())} of {whole.size} rows lack a value (the first is line {table.lines[~whole][0]})."
        )
    speed_step = _reading_step(choice, channels.only_indicated) if "speed_mps" in values else None
    rpm_step = channels.step("engine_rpm")
    if speed_step is not None:
        values["speed_sd_mps"] = np.where(np.isfinite(values["speed_mps"]), speed_step / np.sqrt(12.0), np.nan)
    if rpm_step is not None:
        held = np.minimum(rpm_step, _COARSEST_RPM) / np.sqrt(12.0)
        values["rpm_sd_rpm"] = np.maximum(RPM_HELD_SHARE * values["engine_rpm"], held)
    rows = {"row": table.lines, **values}
    if times is not None:
        rows = {name: column[times.order] for name, column in rows.items()} | {"time_s": times.time_s}
    return Recording(
        file=table.name,
        kind=kind,
        samples=sample_table(table.name, len(table.lines), **rows),
        runs=run_table(table.name, 0),
        clock="none" if times is None else times.clock,
        start_s=None if times is None else times.start_s,
        speed_source=channels.source("hand"),
        speed_step_mps=speed_step,
        rpm_step_rpm=rpm_step,
        columns=choice.columns({} if times is None else {"time_s": times.form}),
        notes=tuple(notes),
    )


def _reading_step(choice: Choice, only_indicated: bool) -> float | None:
    """Step in m/s to which a person read the speeds."""
    number, meaning = choice.chosen["indicated_mps" if only_indicated else "speed_mps"]
    written = parse(choice.table.cells[number])
    written = np.unique(written[np.isfinite(written)])
    step = written_step(written)
    if step is None:
        return None
    if np.all(written == np.rint(written)):
        coarse = written.size >= _DISTINCT_FOR_COARSE and np.all(written % _COARSE_UNITS == 0)
        step = _COARSE_UNITS if coarse else 1.0
    return step * meaning.factor
