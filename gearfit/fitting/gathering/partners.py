"""Finds the recording of engine speed that belongs to a recording of road speed, and how their clocks stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from gearfit.fitting.gathering.ladder_alignment import offset_by_ladder
from gearfit.fitting.pairing.alignment import Alignment, align
from gearfit.fitting.pairing.paired import paired
from gearfit.fitting.which_gear.ladder import Ladder
from gearfit.records.recording import Recording

#: Clocks that are both set may still differ by this much, s, and are corrected beyond that (less is lag).
_CLOCK_ERROR_S: Final = 60.0
_LAG_S: Final = 1.0
#: Set clocks that do not overlap are tried this far apart, s (a time zone, an hour of summer time).
_HOUR_S: Final = 3700.0
#: Two recordings of one logger begin and end within this many samples.
_FEW_SAMPLES: Final = 3.0
_ALIKE: Final = (
    "as they count from the same start and last equally long; if they do not, write the times of both as date and time"
)
_OFFERED: Final = ". If both recorders were started together, write same_clock = true into bike.toml, above its tables"
_STATED: Final = "as bike.toml says (same_clock = true)"


@dataclass(frozen=True)
class Partner:
    """Position of the recording, what to add to its times to get ours (s), and remarks on the clocks."""

    index: int
    shift_s: float
    remarks: tuple[str, ...]


def find_partner(
    recording: Recording, recordings: Sequence[Recording], *, same_clock: bool = False, ladder: Ladder | None = None
) -> Partner | str:
    """Find the engine speed to a recording of speeds, or say why there is none.

    Clocks that are both set (UTC, or both time of day) are believed, but for an error that the ride itself shows.
    Other clocks are aligned by the ride alone, a short one by the `ladder` of stated tooth counts. Where that shows no
    offset, two recordings that begin at the same count and last equally long are taken for those of one logger; so are
    all that count from their own start if `same_clock`.
    """
    candidates = [
        i for i, other in enumerate(recordings) if other.kind == "log" and other.samples["engine_rpm"].notna().any()
    ]
    if not candidates:
        return (
            f"{recording.file} has speeds but no engine speed, and no log of this setup has any: "
            "add an rpm log or a sheet of readings"
        )
    set_alike = [i for i in candidates if _both_set(recording, recordings[i])]
    overlaps = [(_overlap_s(recording, recordings[i]), i) for i in set_alike]
    if overlaps and max(overlaps)[0] > 0:
        return _believed(recording, max(overlaps)[1], recordings)
    stated = [i for i in candidates if same_clock and _both_count(recording, recordings[i])]
    if stated:
        return _one_clock(
            recording, max(stated, key=lambda i: _overlap_s(recording, recordings[i])), recordings, _STATED
        )
    tried = [(i, _by_the_ride(recording, recordings[i])) for i in candidates]
    found = [(a.lead, i, a) for i, a in tried if a is not None and a.unique]
    if found:
        _, i, alignment = max(found, key=lambda entry: entry[:2])
        return Partner(i, alignment.offset_s, (_aligned_text(recording, recordings[i], alignment.offset_s),))
    short = [(i, _by_ladder(recording, recordings[i], ladder)) for i in candidates if ladder is not None]
    shown = [(i, offset_s) for i, offset_s in short if offset_s is not None]
    if len(shown) == 1:
        i, offset_s = shown[0]
        return Partner(i, offset_s, (_aligned_text(recording, recordings[i], offset_s),))
    alike = [i for i in candidates if _begun_and_ended_together(recording, recordings[i])]
    if len(alike) == 1:
        return _one_clock(recording, alike[0], recordings, _ALIKE)
    names = ", ".join(recordings[i].file for i in candidates)
    if len(set_alike) == len(candidates):
        return (
            f"{recording.file} and {names} do not overlap in time: "
            "check the clocks, and whether both belong to this setup"
        )
    counted = any(_both_count(recording, recordings[i]) for i in candidates)
    return (
        f"{recording.file} and {names} keep different clocks, and the ride does not show by how much they differ (no "
        "offset stands out): write the log's time as UTC date and time (2026-05-01T09:30:00Z) or as Unix seconds, and "
        "check that both belong to one ride"
    ) + (_OFFERED if counted else "")


def _both_count(one: Recording, other: Recording) -> bool:
    return one.clock == other.clock == "elapsed"


def _begun_and_ended_together(one: Recording, other: Recording) -> bool:
    """Whether two recorders that count from their own start cover the same span to a few samples."""
    if not _both_count(one, other):
        return False
    (begin, end, step), (begins, ends, steps) = _span_s(one), _span_s(other)
    near_s = _FEW_SAMPLES * max(step, steps)
    return abs(begin - begins) <= near_s and abs(end - ends) <= near_s


def _span_s(recording: Recording) -> tuple[float, float, float]:
    """First and last moment by the recorder's own count, and its usual interval."""
    time_s = recording.samples["time_s"].to_numpy()
    start_s = recording.start_s or 0.0
    usual_s = float(np.median(np.diff(time_s))) if time_s.size > 1 else 0.0
    return start_s + float(time_s[0]), start_s + float(time_s[-1]), usual_s


def _one_clock(recording: Recording, index: int, recordings: Sequence[Recording], why: str) -> Partner:
    remark = f"{recording.file} and {recordings[index].file} were taken to keep one clock, {why}"
    return Partner(index, _shift_s(recording, recordings[index]), (remark,))


def _both_set(one: Recording, other: Recording) -> bool:
    return one.clock == other.clock and one.clock in ("utc", "time of day")


def _shift_s(one: Recording, other: Recording) -> float:
    """Return what to add to the other's times if both clocks are right."""
    return (other.start_s or 0.0) - (one.start_s or 0.0)


def _overlap_s(one: Recording, other: Recording) -> float:
    ours, theirs = one.samples["time_s"], other.samples["time_s"] + _shift_s(one, other)
    return float(min(ours.iloc[-1], theirs.iloc[-1]) - max(ours.iloc[0], theirs.iloc[0]))


def _believed(recording: Recording, index: int, recordings: Sequence[Recording]) -> Partner:
    """Believe two set clocks, unless the ride shows plainly that one of them is wrong by more than a lag.

    An error of up to a minute is looked for first; one of up to an hour only where the ride fits nowhere near.
    """
    shift_s = _shift_s(recording, recordings[index])
    for error_s in (_CLOCK_ERROR_S, _HOUR_S):
        found = _aligned(recording, recordings[index], shift_s - error_s, shift_s + error_s)
        if found is not None and found.unique:
            break
    if found is None or not found.unique or abs(found.offset_s - shift_s) <= _LAG_S:
        return Partner(index, shift_s, ())
    remark = (
        f"the clocks of {recording.file} and {recordings[index].file} differ by {abs(found.offset_s - shift_s):.1f} s, "
        "as the ride itself shows; this was taken out"
    )
    return Partner(index, found.offset_s, (remark,))


def _by_the_ride(recording: Recording, other: Recording) -> Alignment | None:
    ours_s, theirs_s = (float(r.samples["time_s"].iloc[-1]) for r in (recording, other))
    if not _both_set(recording, other):
        return _aligned(recording, other, -theirs_s, ours_s)
    shift_s = _shift_s(recording, other)
    if _overlap_s(recording, other) < -_HOUR_S:
        return None
    return _aligned(recording, other, shift_s - _HOUR_S, shift_s + _HOUR_S)


def _aligned(recording: Recording, other: Recording, lowest_s: float, highest_s: float) -> Alignment | None:
    speeds = recording.samples[(recording.samples["speed_fresh"] & recording.samples["speed_mps"].notna()).to_numpy()]
    engine = other.samples[(other.samples["rpm_fresh"] & other.samples["engine_rpm"].notna()).to_numpy()]
    if len(speeds) < 2 or len(engine) < 2:
        return None
    speed_time_s, rpm_time_s = speeds["time_s"].to_numpy(), engine["time_s"].to_numpy()
    if not (np.median(np.diff(speed_time_s)) > 0 and np.median(np.diff(rpm_time_s)) > 0):
        return None
    return align(
        speed_time_s, speeds["speed_mps"].to_numpy(), rpm_time_s, engine["engine_rpm"].to_numpy(), lowest_s, highest_s
    )


def _by_ladder(recording: Recording, other: Recording, ladder: Ladder | None) -> float | None:
    if ladder is None or not _both_count(recording, other):
        return None
    return offset_by_ladder(paired(recording, 0, other, 0.0), ladder)


def _aligned_text(recording: Recording, other: Recording, offset_s: float) -> str:
    later = f"{abs(offset_s):.1f} s {'after' if offset_s >= 0 else 'before'}"
    return (
        f"{recording.file} and {other.file} keep different clocks; the ride itself shows that {other.file} begins "
        f"{later} {recording.file}"
    )
