"""Gathers one setup's recordings: which speeds and engine speeds belong together, and why a row cannot be used.

Loggers measure the two at different moments, at different rates, sometimes in different files.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.fitting.gathering.partners import find_partner
from gearfit.fitting.pairing.held_clock import Watch
from gearfit.fitting.pairing.material import Material, Sheet, Track
from gearfit.fitting.pairing.paired import first_of_each, noted, paired
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.which_gear.ladder import Ladder
from gearfit.records.recording import Recording

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

#: Standard error of an engine speed where a sheet gives none, share of the reading.
_RPM_RELATIVE_SD: Final = 0.002


def gather(recordings: Sequence[Recording], *, same_clock: bool = False, ladder: Ladder | None = None) -> Material:
    """Pair up the channels of one setup's recordings.

    `same_clock` is as in `gearfit.machine.bike.Setup`; `ladder` is that of stated tooth counts, None where they are not
    known.
    """
    table = pd.concat([recording.samples for recording in recordings], ignore_index=True)
    starts = np.cumsum([0, *(len(recording.samples) for recording in recordings)])
    reasons = np.full(len(table), "", dtype=object)
    has_speed_row = noted(table, "speed_mps")
    streams: list[Stream] = []
    problems: list[str] = []
    remarks: list[str] = []
    replaced: set[int] = set()
    has_held_rows = any(r.kind == "held rpm" for r in recordings)
    shown_only = _shown_only(recordings)
    for i in shown_only:
        reasons[starts[i] : starts[i + 1]] = SHOWN_ONLY
    for i, recording in enumerate(recordings):
        if recording.kind != "track" or noted(recording.samples, "engine_rpm").any():
            continue
        found = find_partner(recording, recordings, same_clock=same_clock, ladder=ladder)
        if isinstance(found, str):
            if not has_held_rows:
                problems.append(found)
            continue
        remarks += found.remarks
        streams.append(paired(recording, starts[i], recordings[found.index], found.shift_s))
        replaced.add(found.index)
        part = slice(starts[found.index], starts[found.index + 1])
        reasons[part] = np.where(has_speed_row[part], REPLACED, JOINED)
    for i, recording in enumerate(recordings):
        if i in replaced or i in shown_only or recording.kind not in ("track", "log"):
            continue
        has_speed, has_rpm = (noted(recording.samples, name).any() for name in ("speed_mps", "engine_rpm"))
        if has_speed and has_rpm:
            streams.append(paired(recording, starts[i], recording, 0.0))
        elif recording.kind == "log" and has_speed:
            found = find_partner(recording, recordings, same_clock=same_clock, ladder=ladder)
            if isinstance(found, str):
                problems.append(found)
            else:
                remarks += found.remarks
                streams.append(paired(recording, starts[i], recordings[found.index], found.shift_s))
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


def _track(recording: Recording) -> Track:
    s = recording.samples
    take = np.flatnonzero(noted(s, "time_s") & s["speed_fresh"].to_numpy() & noted(s, "speed_mps"))
    take = take[first_of_each(s["time_s"].to_numpy()[take])]
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
    has_speed, has_rpm = noted(table, "speed_mps"), noted(table, "engine_rpm")
    held = has_speed & ~table["speed_fresh"].to_numpy()
    still_open = (reasons == "") & ~in_stream
    for wanted, reason in (
        (on_sheet & ~has_speed & has_rpm, HELD_RPM_SHEET),
        (~has_speed, NO_SPEED),
        (~on_sheet & held, HELD),
        (~on_sheet & _repeats_a_time(table), SAME_TIME),
        (~on_sheet | ~has_rpm, NO_RPM),
    ):
        reasons[still_open & wanted] = reason
        still_open &= ~wanted
    return np.flatnonzero(still_open)


def _repeats_a_time(table: pd.DataFrame) -> NDArray[np.bool_]:
    """Mark the rows of a file that bear the time of the row before."""
    time_s, file = table["time_s"].to_numpy(), table["file"].to_numpy()
    return np.append(np.zeros(min(len(table), 1), dtype=bool), (time_s[1:] == time_s[:-1]) & (file[1:] == file[:-1]))


def _shown_only(recordings: Sequence[Recording]) -> set[int]:
    """Find the recordings that hold only what the speedometer showed, where others hold measured speeds to use instead.

    A sheet of shown and measured speeds without engine speeds judges the instrument and is no reason.
    """
    sources = [r.speed_source for r in recordings]
    measured = [
        source not in ("speedometer", "none")
        and (recording.kind in ("track", "log") or bool(noted(recording.samples, "engine_rpm").any()))
        for source, recording in zip(sources, recordings, strict=True)
    ]
    if not any(measured):
        return set()
    return {i for i, source in enumerate(sources) if source == "speedometer"}


def _has_only_speed(recording: Recording) -> bool:
    return bool(noted(recording.samples, "speed_mps").any() and not noted(recording.samples, "engine_rpm").any())


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
