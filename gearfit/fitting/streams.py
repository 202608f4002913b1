"""Gathers one setup's recordings: which speeds and engine speeds belong together, and why a row cannot be used.

Loggers measure the two at different moments, at different rates, sometimes in different files.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.fitting.held_clock import Watch
from gearfit.fitting.partners import find_partner
from gearfit.fitting.stream import Stream
from gearfit.recording import Recording

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

HELD: Final = "held value, not measured anew"
NO_SPEED: Final = "no speed in this row"
SAME_TIME: Final = "at the same time as the row before"
NO_RPM: Final = "no engine speed at that moment"
JOINED: Final = "engine speed, joined to the speeds of another file"
REPLACED: Final = "a receiver's speed was used instead"
SHOWN_ONLY: Final = "speedometer reading; measured speeds were used"
HELD_RPM_SHEET: Final = "held engine speed without a speed of its own"
STANDING: Final = "standing or crawling"
NO_GEAR: Final = "no gear: clutch, neutral, shift or slip"
NO_STEPS: Final = "no stepped gears found"
UNCLEAR_GEAR: Final = "gear not noted, and more than one may be it"
OUT_OF_LINE: Final = "out of line with the other readings"

#: Standing, engine on, and for how long to show the idle speed: m/s, rev/min, s.
_STANDING_MPS: Final = 0.4
_ENGINE_ON_RPM: Final = 300.0
_LEAST_IDLE_S: Final = 4.0
#: Standard error assumed where a file gives none: receiver speed, m/s; engine speed, share of the reading.
_SPEED_SD_MPS: Final = 0.1
_RPM_RELATIVE_SD: Final = 0.002


def _none_given() -> FloatArray:
    return np.empty(0)


@dataclass(frozen=True, eq=False)
class Sheet:
    """Hand-entered samples of a setup.

    Attributes
    ----------
    rows : (n,) int
        Rows in the table of the setup.
    speed_mps, speed_sd_mps, engine_rpm, rpm_sd_rpm : (n,) float
        The readings, each with its standard error from reading alone: how steadily a person holds an engine speed is
        not in it.
    stated_gear : (n,) float
        Gear as noted; NaN where none was.
    speed_step_mps, rpm_step_rpm : (n,) float
        Step to which each reading was made; NaN unknown, as everywhere where they are not given.
    """

    rows: IntArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray
    engine_rpm: FloatArray
    rpm_sd_rpm: FloatArray
    stated_gear: FloatArray
    speed_step_mps: FloatArray = field(default_factory=_none_given)
    rpm_step_rpm: FloatArray = field(default_factory=_none_given)

    def __post_init__(self) -> None:
        for name in ("speed_step_mps", "rpm_step_rpm"):
            if getattr(self, name).size != self.rows.size:
                object.__setattr__(self, name, np.full(self.rows.size, np.nan))


@dataclass(frozen=True, eq=False)
class Track:
    """Measured speeds of one recording ((n,) each), and its clock."""

    time_s: FloatArray
    speed_mps: FloatArray
    watch: Watch


@dataclass(frozen=True, eq=False)
class Material:
    """What a setup offers to the fit.

    Attributes
    ----------
    table : pandas.DataFrame
        All samples of the setup, in order, as `gearfit.schema`.
    reasons : (n,) object
        Why a row cannot be used ("" where it can).
    problems : tuple of str
        What kept whole files from being used, each a sentence.
    remarks : tuple of str
        What was done to join recordings (clocks, held engine speeds), each a sentence.
    tracks : tuple of Track
        Measured speeds of each timed recording, engine speed or not.
    clocks : mapping of str to Watch
        Clock of each file.
    """

    table: pd.DataFrame
    reasons: NDArray[np.object_]
    streams: tuple[Stream, ...]
    sheet: Sheet
    problems: tuple[str, ...]
    remarks: tuple[str, ...]
    tracks: tuple[Track, ...]
    clocks: Mapping[str, Watch]


def gather(recordings: Sequence[Recording], *, same_clock: bool = False) -> Material:
    """Pair up the channels of one setup's recordings; `same_clock` as in `gearfit.bike.Setup`."""
    table = pd.concat([recording.samples for recording in recordings], ignore_index=True)
    starts = np.cumsum([0, *(len(recording.samples) for recording in recordings)])
    reasons = np.full(len(table), "", dtype=object)
    has_speed_row = _noted(table, "speed_mps")
    streams: list[Stream] = []
    problems: list[str] = []
    remarks: list[str] = []
    replaced: set[int] = set()
    has_held_rows = any(r.kind == "held rpm" for r in recordings)
    shown_only = _shown_only(recordings)
    for i in shown_only:
        reasons[starts[i] : starts[i + 1]] = SHOWN_ONLY
    for i, recording in enumerate(recordings):
        if recording.kind != "track" or _noted(recording.samples, "engine_rpm").any():
            continue
        found = find_partner(recording, recordings, same_clock=same_clock)
        if isinstance(found, str):
            if not has_held_rows:
                problems.append(found)
            continue
        remarks += found.remarks
        streams.append(_stream(recording, starts[i], recordings[found.index], found.shift_s, reasons))
        replaced.add(found.index)
        part = slice(starts[found.index], starts[found.index + 1])
        reasons[part] = np.where(has_speed_row[part], REPLACED, JOINED)
    for i, recording in enumerate(recordings):
        if i in replaced or i in shown_only or recording.kind not in ("track", "log"):
            continue
        has_speed, has_rpm = (_noted(recording.samples, name).any() for name in ("speed_mps", "engine_rpm"))
        if has_speed and has_rpm:
            streams.append(_stream(recording, starts[i], recording, 0.0, reasons))
        elif recording.kind == "log" and has_speed:
            found = find_partner(recording, recordings, same_clock=same_clock)
            if isinstance(found, str):
                problems.append(found)
            else:
                remarks += found.remarks
                streams.append(_stream(recording, starts[i], recordings[found.index], found.shift_s, reasons))
                reasons[starts[found.index] : starts[found.index + 1]] = JOINED
        elif has_rpm and not any(_has_only_speed(other) for other in recordings):
            problems.append(
                f"{recording.file} holds engine speed only, and no file of this setup holds the speeds to it"
            )
    for start, recording in zip(starts, recordings, strict=False):
        for row, reason in recording.left_out.items():
            reasons[start + row] = reason
    sheet_rows = _give_reasons(table, recordings, streams, reasons)
    tracks = tuple(_track(recordings[i]) for i in range(len(recordings)) if i not in shown_only)
    return Material(
        table=table,
        reasons=reasons,
        streams=tuple(streams),
        sheet=_sheet(table, sheet_rows, recordings),
        problems=tuple(problems),
        remarks=tuple(remarks),
        tracks=tuple(track for track in tracks if track.time_s.size),
        clocks={recording.file: _watch(recording) for recording in recordings},
    )


def _noted(samples: pd.DataFrame, column: str) -> NDArray[np.bool_]:
    """Rows that hold a number in a column of numbers."""
    noted: NDArray[np.bool_] = ~np.isnan(samples[column].to_numpy())
    return noted


def _track(recording: Recording) -> Track:
    s = recording.samples
    take = _noted(s, "time_s") & s["speed_fresh"].to_numpy() & _noted(s, "speed_mps")
    return Track(s["time_s"].to_numpy()[take], s["speed_mps"].to_numpy()[take], _watch(recording))


def _watch(recording: Recording) -> Watch:
    return Watch(recording.clock, recording.start_s or 0.0)


def _give_reasons(
    table: pd.DataFrame, recordings: Sequence[Recording], streams: Sequence[Stream], reasons: NDArray[np.object_]
) -> IntArray:
    """Write into `reasons` why the rows that no stream uses cannot be used; return the usable rows of sheets."""
    in_stream = np.zeros(len(table), dtype=bool)
    for stream in streams:
        in_stream[stream.rows] = True
    on_sheet = np.concatenate([np.full(len(r.samples), r.kind in ("samples", "held rpm")) for r in recordings])
    has_speed, has_rpm = _noted(table, "speed_mps"), _noted(table, "engine_rpm")
    held = has_speed & ~table["speed_fresh"].to_numpy()
    still_open = (reasons == "") & ~in_stream
    for wanted, reason in (
        (on_sheet & ~has_speed & has_rpm, HELD_RPM_SHEET),
        (~has_speed, NO_SPEED),
        (~on_sheet & held, HELD),
        (~on_sheet | ~has_rpm, NO_RPM),
    ):
        reasons[still_open & wanted] = reason
        still_open &= ~wanted
    return np.flatnonzero(still_open)


def _shown_only(recordings: Sequence[Recording]) -> set[int]:
    """Find the recordings that hold only what the speedometer showed, where others hold measured speeds to use instead.

    A sheet of shown and measured speeds without engine speeds judges the instrument and is no reason.
    """
    sources = [r.speed_source for r in recordings]
    measured = [
        source not in ("speedometer", "none")
        and (recording.kind in ("track", "log") or bool(_noted(recording.samples, "engine_rpm").any()))
        for source, recording in zip(sources, recordings, strict=True)
    ]
    if not any(measured):
        return set()
    return {i for i, source in enumerate(sources) if source == "speedometer"}


def _has_only_speed(recording: Recording) -> bool:
    return bool(_noted(recording.samples, "speed_mps").any() and not _noted(recording.samples, "engine_rpm").any())


def _stream(speeds: Recording, start: int, engine: Recording, shift_s: float, reasons: NDArray[np.object_]) -> Stream:
    """Pair speeds with engine speeds; of rows with one time the first counts, the others get a reason in `reasons`.

    Clocks that tell whole seconds are mostly cut down to them, so that the first row is the one nearest to its time.
    """
    s, e = speeds.samples, engine.samples
    take = np.flatnonzero(s["speed_fresh"].to_numpy() & _noted(s, "speed_mps"))
    first = _first_of_each(s["time_s"].to_numpy()[take])
    reasons[start + take[~first]] = SAME_TIME
    take = take[first]
    time_s, speed, speed_sd = (s[name].to_numpy()[take] for name in ("time_s", "speed_mps", "speed_sd_mps"))
    known = np.flatnonzero(e["rpm_fresh"].to_numpy() & _noted(e, "engine_rpm"))
    rpm_time_s = e["time_s"].to_numpy()[known]
    new = _first_of_each(rpm_time_s)
    known, rpm_time_s = known[new], rpm_time_s[new] + shift_s
    rpm = e["engine_rpm"].to_numpy()[known]
    return Stream(
        file=speeds.file,
        rows=start + take,
        time_s=time_s,
        speed_mps=speed,
        speed_sd_mps=np.fmax(speed_sd, _SPEED_SD_MPS),
        rpm_time_s=rpm_time_s,
        engine_rpm=rpm,
        rpm_sd_rpm=np.fmax(e["rpm_sd_rpm"].to_numpy()[known], _RPM_RELATIVE_SD * rpm),
        speed_step_mps=speeds.speed_step_mps or 0.0,
        idle_rpm=_idle_rpm(time_s, speed, rpm_time_s, rpm),
        engine_file=engine.file,
        engine_shift_s=shift_s,
    )


def _first_of_each(time_s: FloatArray) -> NDArray[np.bool_]:
    """Tell the first of the rows that have one time."""
    return np.append(np.ones(min(time_s.size, 1), dtype=bool), time_s[1:] != time_s[:-1])


def _idle_rpm(speed_time_s: FloatArray, speed_mps: FloatArray, rpm_time_s: FloatArray, rpm: FloatArray) -> float:
    """Median engine speed while standing with the engine running; 0 where that lasts less than some seconds."""
    standing = np.interp(rpm_time_s, speed_time_s, speed_mps, left=np.nan, right=np.nan) < _STANDING_MPS
    idling = rpm[standing & (rpm > _ENGINE_ON_RPM)]
    if idling.size == 0:
        return 0.0
    usual_s = float(np.median(np.diff(rpm_time_s))) if rpm_time_s.size > 1 else 0.0
    return float(np.median(idling)) if idling.size * usual_s >= _LEAST_IDLE_S else 0.0


def _sheet(table: pd.DataFrame, rows: IntArray, recordings: Sequence[Recording]) -> Sheet:
    speed, speed_sd, rpm, rpm_sd, gear = (
        table[name].to_numpy()[rows]
        for name in ("speed_mps", "speed_sd_mps", "engine_rpm", "rpm_sd_rpm", "stated_gear")
    )
    return Sheet(
        rows=rows,
        speed_mps=speed,
        speed_sd_mps=np.fmax(np.nan_to_num(speed_sd), 0.01),
        engine_rpm=rpm,
        rpm_sd_rpm=np.where(np.isnan(rpm_sd), _RPM_RELATIVE_SD * rpm, rpm_sd),
        stated_gear=gear,
        speed_step_mps=_of_each_row([r.speed_step_mps for r in recordings], recordings)[rows],
        rpm_step_rpm=_of_each_row([r.rpm_step_rpm for r in recordings], recordings)[rows],
    )


def _of_each_row(values: Sequence[float | None], recordings: Sequence[Recording]) -> FloatArray:
    """Spread a value of each recording over its rows; NaN where it has none."""
    known = [np.nan if value is None else value for value in values]
    return np.repeat(np.array(known, dtype=np.float64), [len(recording.samples) for recording in recordings])
