"""Logs with a time column out of delimited text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.common.headers import Meaning
from gearfit.importers.common.stray_times import stray_note
from gearfit.importers.common.table import Table
from gearfit.importers.text.channels import Channels, read_channels
from gearfit.importers.text.clock_times import DAY_S
from gearfit.importers.text.columns import Choice
from gearfit.importers.text.gear_notes import gears_unread
from gearfit.importers.text.held import refreshed
from gearfit.importers.text.times import ALLOWED, Times
from gearfit.records.recording import Column, Recording, SpeedSource
from gearfit.records.schema import run_table, sample_table

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]

#: Up to which a log with a clock of its own is put in order: share of rows that lag, and rows that lag in a run.
_OUT_OF_ORDER_SHARE, _OUT_OF_ORDER_RUN = 0.05, 10


def read_text_log(choice: Choice) -> Recording:
    """Read a log.

    Rows without a readable time are left out, rows out of order are sorted, rows wholly alike are kept once; each is
    counted in the notes. Standard errors are those of the written step, step / sqrt(12).

    Raises
    ------
    LogError
        The time restarts or most of a needed column is unreadable.
    """
    table = choice.table
    times = choice.times()
    channels = read_channels(choice)
    order, notes = _rows_in_order(table, times)
    if channels.gears is not None and channels.gears.unread.any():
        notes.append(gears_unread(choice, channels.gears))
    return recording_of(
        Log(
            table.name,
            table.lines[order],
            replace(times, seconds=times.seconds[order]),
            {name: column[order] for name, column in channels.values().items()},
            channels,
            speed_source_of(choice.kind_of_speed, [meaning for _, meaning in choice.chosen.values()]),
            choice.columns({"time_s": times.form}),
            (*channels.notes, *notes),
            table.own_times,
        )
    )


@dataclass(frozen=True, eq=False)
class Log:
    """Rows of a log, read and in order of time.

    Attributes
    ----------
    name : str
        Name of the file.
    lines : numpy.ndarray
        Line of the file of each row.
    times : Times
        Their times.
    values : dict
        Values of each channel in these rows, SI.
    channels : Channels
        The channels as read.
    speed_source : str
        Where speeds come from that the speedometer did not show.
    columns : tuple of Column
        The columns as people are told of them.
    notes : tuple of str
        What was dropped or repaired.
    own_times : bool
        Whether each channel fills only rows of its own.
    """

    name: str
    lines: Rows
    times: Times
    values: dict[str, Floats]
    channels: Channels
    speed_source: SpeedSource
    columns: tuple[Column, ...]
    notes: tuple[str, ...]
    own_times: bool


def recording_of(log: Log) -> Recording:
    """Tell fresh values from held ones, add standard errors, and fill the sample table.

    Raises
    ------
    LogError
        There is neither a speed nor an engine speed.
    """
    values, channels, times = log.values, log.channels, log.times
    if not any(np.isfinite(values[name]).any() for name in ("speed_mps", "engine_rpm") if name in values):
        raise LogError(log.name, "no row holds a speed or an engine speed", "Record the ride again")
    fresh = _freshness(values, channels, log.own_times)
    first_s = float(times.seconds[0])
    samples = sample_table(
        log.name,
        log.lines.size,
        row=log.lines,
        time_s=times.seconds - first_s,
        **values,
        **_uniform_sd(values, channels),
        **fresh,
    )
    return Recording(
        file=log.name,
        kind="log",
        samples=samples,
        runs=run_table(log.name, 0),
        clock=times.clock,
        start_s=times.origin_s + first_s,
        speed_source=channels.source(log.speed_source),
        speed_step_mps=channels.step("speed_mps"),
        rpm_step_rpm=channels.step("engine_rpm"),
        columns=log.columns,
        notes=(*log.notes, *_held_notes(values, fresh)),
        start_day=None if times.day is None else times.day + int((times.origin_s + first_s) // DAY_S),
    )


def speed_source_of(kind: str, meanings: Sequence[Meaning]) -> SpeedSource:
    """Return where a speed comes from.

    Parameters
    ----------
    kind : str
        What its header says, as `gearfit.importers.common.headers.Meaning`.
    meanings : sequence of Meaning
        Of all columns: beside positions, or columns that name a receiver, a speed of which nothing is said is its.
    """
    if kind == "machine":
        return "machine"
    placed = {"latitude_deg", "longitude_deg"} <= {meaning.channel for meaning in meanings}
    named = any(meaning.kind == "receiver" for meaning in meanings)
    return "receiver" if placed or named else "wheel or logger"


def _rows_in_order(table: Table, times: Times) -> tuple[Rows, list[str]]:
    """Rows to keep, in order of time, and what was left out or moved."""
    notes = []
    timed = np.flatnonzero(np.isfinite(times.seconds))
    untimed = ~np.isfinite(times.seconds)
    if times.strays.any():
        untimed &= ~times.strays
        notes.append(stray_note(int(times.strays.sum()), "row", f"line {table.lines[times.strays][0]}"))
    if untimed.any():
        line = table.lines[untimed][0]
        notes.append(
            f"{_rows(int(untimed.sum()))} without a readable time left out (the first is line {line}; {ALLOWED})."
        )
    seconds = times.seconds[timed]
    back = seconds < np.maximum.accumulate(seconds)
    if back.any():
        if times.clock != "utc" and _restarts(back):
            raise LogError(
                f"{table.name}, line {table.lines[timed[back][0]]}",
                f"the time runs backwards from here in {_rows(int(back.sum()))}; allowed is one recording a file",
                "Split the file here",
            )
        notes.append(f"{_rows(int(back.sum()))} out of order put in order of time.")
        timed = timed[np.argsort(seconds, kind="stable")]
    alike = _alike(table, timed, times.seconds[timed])
    if alike.any():
        notes.append(f"{_rows(int(alike.sum()))} wholly like an earlier row left out.")
    return timed[~alike].astype(np.int64), notes


def _alike(table: Table, rows: Rows, seconds: Floats) -> NDArray[np.bool_]:
    """Find the rows that are wholly like an earlier one; they have its time, so without equal times there are none."""
    if np.unique(seconds).size == seconds.size:
        return np.zeros(rows.size, dtype=bool)
    return table.cells.iloc[rows].duplicated().to_numpy()


def _restarts(back: NDArray[np.bool_]) -> bool:
    """Whether the rows that lag behind are too many, or follow each other, as after a restart of the clock."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], back, [False])).astype(np.int8)))
    longest = int(np.max(edges[1::2] - edges[::2]))
    return longest > _OUT_OF_ORDER_RUN or back.sum() > max(1.0, _OUT_OF_ORDER_SHARE * back.size)


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"


def _freshness(values: dict[str, Floats], channels: Channels, own_times: bool) -> dict[str, NDArray[np.bool_]]:
    """Rows in which each channel was measured anew, and nothing for a channel without values.

    Where channels have times of their own, only the rows of the channel itself are looked at.
    """
    found = {}
    for channel, fresh in (("speed_mps", "speed_fresh"), ("engine_rpm", "rpm_fresh")):
        if channel in values:
            rows = np.isfinite(values[channel]) if own_times else np.ones(values[channel].size, dtype=bool)
            found[fresh] = np.zeros(rows.size, dtype=bool)
            found[fresh][rows] = refreshed(values[channel][rows], channels.step(channel))
    return found


def _uniform_sd(values: dict[str, Floats], channels: Channels) -> dict[str, Floats]:
    """Return the standard errors of values written in steps, step / sqrt(12)."""
    errors = {}
    for channel, error in (("speed_mps", "speed_sd_mps"), ("engine_rpm", "rpm_sd_rpm")):
        step = channels.step(channel)
        if channel in values and step is not None:
            errors[error] = np.where(np.isfinite(values[channel]), step / np.sqrt(12.0), np.nan)
    return errors


def _held_notes(values: dict[str, Floats], fresh: dict[str, NDArray[np.bool_]]) -> list[str]:
    notes = []
    for channel, flag, label in (
        ("speed_mps", "speed_fresh", "speed"),
        ("engine_rpm", "rpm_fresh", "engine speed"),
    ):
        if flag in fresh:
            present, anew = int(np.isfinite(values[channel]).sum()), int(fresh[flag].sum())
            if anew < present:
                notes.append(f"The {label} was measured anew in {anew} of {present} rows; the others hold it.")
    return notes
