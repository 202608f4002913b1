"""Hand-entered sheets out of delimited text: samples of rpm and speed, and held engine speeds."""

from __future__ import annotations

from collections import Counter
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.common.cells import parse
from gearfit.importers.common.quoting import quoted
from gearfit.importers.common.written_step import written_step
from gearfit.importers.sheet.rows import SheetRows, look_through, shown_or_measured
from gearfit.importers.text.channels import read_channels
from gearfit.importers.text.columns import Choice
from gearfit.importers.text.gear_notes import HOW_TO_WRITE
from gearfit.importers.text.sheet_times import SheetTimes
from gearfit.records.recording import UNREAD_GEAR, Recording
from gearfit.records.schema import run_table, sample_table
from gearfit.records.words import count

Floats = NDArray[np.float64]

#: People read a dial to the unit, or to five of them where all values are multiples of five.
COARSE_UNITS: Final = 5.0
#: Distinct values from which multiples of five are no accident (1 in 625).
DISTINCT_FOR_COARSE: Final = 4
#: ... and share of them that are multiples of five: one misread value does not make a fine display of a coarse one.
SHARE_OF_FIVES: Final = 0.8
#: How much wider the error of a reading is that the rider marked as doubtful ("~36", "36?"): our assumption, as nobody
#: writes how wide; a needle that swings over two or three marks makes people write so.
DOUBT: Final = 2.5
#: Coarsest step to which a tachometer is taken to be read, rev/min: round values are what riders hold (ours).
COARSEST_RPM: Final = 100.0


def read_sheet(choice: Choice, kind: Literal["samples", "held rpm"], times: SheetTimes | None = None) -> Recording:
    """Read a sheet, without times or with the times at which its rows were held.

    Standard errors are those of reading alone, step / sqrt(12) (uniform within the step), `DOUBT` times as much where
    the rider marked a reading as doubtful. The step of the speeds is one unit or five, that of the engine speeds the
    one as written, at most 100 rev/min.

    Raises
    ------
    LogError
        No row holds all that the kind needs.
    """
    table = choice.table
    channels = read_channels(choice)
    rows = look_through(choice, channels)
    if not rows.whole.any():
        raise _no_row(choice, rows)
    values = dict(rows.values)
    speed_step = _reading_step(choice, channels.only_indicated) if "speed_mps" in values else None
    written_rpm = channels.step("engine_rpm")
    rpm_step = None if written_rpm is None else min(written_rpm, COARSEST_RPM)
    for channel, error, step in (
        ("speed_mps", "speed_sd_mps", speed_step),
        ("engine_rpm", "rpm_sd_rpm", rpm_step),
    ):
        if step is not None:
            number, _ = choice.chosen[shown_or_measured(channels, channel)]
            doubt = np.where(table.doubtful.get(number, False), DOUBT, 1.0)
            values[error] = np.where(np.isfinite(values[channel]), doubt * step / np.sqrt(12.0), np.nan)
    columns = {"row": table.lines, **values}
    left_out = rows.left_out
    if times is not None:
        columns = {name: column[times.order] for name, column in columns.items()} | {"time_s": times.time_s}
        left_out = {new: left_out[int(old)] for new, old in enumerate(times.order) if int(old) in left_out}
    return Recording(
        file=table.name,
        kind=kind,
        samples=sample_table(table.name, len(table.lines), **columns),
        runs=run_table(table.name, 0),
        clock="none" if times is None else times.clock,
        start_s=None if times is None else times.start_s,
        speed_source=channels.source("machine" if choice.kind_of_speed == "machine" else "hand"),
        speed_step_mps=speed_step,
        rpm_step_rpm=rpm_step,
        columns=choice.columns({} if times is None else {"time_s": times.form}),
        notes=(*channels.notes, *rows.notes),
        left_out=left_out,
        warnings=rows.warnings,
    )


def _no_row(choice: Choice, rows: SheetRows) -> LogError:
    """Say why no row of a sheet can be used."""
    unread = [row for row, why in rows.left_out.items() if why == UNREAD_GEAR]
    if unread:
        number, meaning = choice.chosen["stated_gear"]
        written = quoted(choice.table.cells[number].iloc[unread[0]])
        return LogError(
            f"{choice.table.name}, line {choice.table.lines[unread[0]]}, column {meaning.header!r}",
            f"{written} is no gear that can be read, and no other row has one",
            HOW_TO_WRITE,
        )
    reasons = Counter(rows.left_out.values())
    why = ", ".join(f"{count(rows, 'row')}: {reason}" for reason, rows in reasons.items())
    headers = [choice.meaning(name).header for name in ("engine_rpm", "speed_mps") if name in choice]
    return LogError(
        f"{choice.table.name}, line {choice.table.lines[0]}",
        f"no row holds every value that it needs{f' ({why})' if why else ''}",
        f"Fill in {' and '.join(headers)} in each row",
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
        fives = np.mean(written % COARSE_UNITS == 0)
        coarse = written.size >= DISTINCT_FOR_COARSE and fives >= SHARE_OF_FIVES
        step = COARSE_UNITS if coarse else 1.0
    return step * meaning.factor
