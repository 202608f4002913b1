"""Files that hold the same readings: a copy under another name, an export to another format, a part cut out.

Readings that count twice make every interval narrower than it is. What was read is compared, not how it was written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.records.recording import Copy, Recording, RideSetup

Floats = NDArray[np.float64]
SameBytes = Callable[[str, str], bool]

#: Fewer rows than these are alike by accident.
_FEWEST_ROWS: Final = 3
#: Chance above which a part of a hand-written sheet is taken to be alike by accident.
_ACCIDENT: Final = 0.01
#: Half a step of what a person reads at the finest, to which a sheet in another unit is rounded: m/s, rev/min; of a
#: stopwatch, s.
_HAND_MPS, _HAND_RPM, _WATCH_S = 0.5 / 3.6, 0.5, 0.001
#: Half the last decimal in which formats write positions, degrees (a metre), and speeds whose step is not known, m/s.
_PLACE_DEG, _UNKNOWN_MPS = 1e-5, 0.005
#: How far a sample may lie from the one that it is compared with, share of the usual interval.
_TIME_SHARE: Final = 0.25
#: Rows that are looked at before all are.
_PROBES: Final = 16
_HAND_CHANNELS: Final = ("stated_gear", "engine_rpm", "speed_mps", "indicated_mps")
_LOG_CHANNELS: Final = ("engine_rpm", "speed_mps", "latitude_deg", "longitude_deg")
_RUN_COLUMNS: Final = ("from_mps", "to_mps", "time_s")


def without_copies(
    recordings: Sequence[Recording], same_bytes: SameBytes
) -> tuple[tuple[Recording, ...], tuple[Copy, ...]]:
    """Leave out the recordings of one setup whose readings another one holds as well.

    Parameters
    ----------
    recordings : sequence of Recording
        Those of one setup.
    same_bytes : callable
        Tells of two names of files whether their contents are the same byte for byte.

    Returns
    -------
    kept : tuple of Recording
        In the order given.
    copies : tuple of Copy
        What was left out.
    """
    copies: list[Copy] = []
    kept: list[Recording] = []
    plans = not _are_needed(recordings)
    for recording in sorted(recordings, key=lambda item: (-_rows(item), len(item.file), item.file)):
        comparable = plans or not _is_plan(recording)
        original = next((other for other in kept if comparable and _is_held_by(recording, other, same_bytes)), None)
        if original is None:
            kept.append(recording)
        else:
            copies.append(Copy(recording.file, original.file, _rows(recording) < _rows(original), counts_once=True))
    names = {recording.file for recording in kept}
    return tuple(item for item in recordings if item.file in names), tuple(sorted(copies, key=lambda copy: copy.file))


def in_two_setups(setups: Sequence[RideSetup], same_bytes: SameBytes) -> tuple[Copy, ...]:
    """Find the readings that two setups hold alike; nothing is left out, as nobody knows to which they belong."""
    found = []
    for place, later in enumerate(setups):
        for earlier in setups[:place]:
            for one, other in product(earlier.recordings, later.recordings):
                if _is_plan(one) or _is_plan(other):
                    continue
                if _is_held_by(one, other, same_bytes) or _is_held_by(other, one, same_bytes):
                    found.append(Copy(other.file, one.file, _rows(one) != _rows(other), counts_once=False))
    return tuple(found)


def _rows(recording: Recording) -> int:
    return len(recording.samples) + len(recording.runs) + len(recording.odometer)


def _is_plan(recording: Recording) -> bool:
    """Whether a sheet holds only what was to be held (engine speeds or shown speeds), which is alike by intent."""
    if recording.clock != "none" or not len(recording.samples):
        return False
    measured = [name for name in ("engine_rpm", "speed_mps") if recording.samples[name].notna().any()]
    both = recording.speed_source == "hand" and recording.samples["indicated_mps"].notna().any()
    return len(measured) + bool(both) < 2


def _are_needed(recordings: Sequence[Recording]) -> bool:
    """Whether each sheet of what was to be held may belong to a ride of its own: there are as many timed speeds."""
    timed = sum(item.clock != "none" and bool(item.samples["speed_mps"].notna().any()) for item in recordings)
    return sum(map(_is_plan, recordings)) <= timed


def _is_held_by(small: Recording, large: Recording, same_bytes: SameBytes) -> bool:
    """Whether all that one recording holds stands in another as well."""
    if small.file != large.file and same_bytes(small.file, large.file):
        return True  # two setups may stand in one file
    if len(small.runs) and len(large.runs):
        columns = [recording.runs[list(_RUN_COLUMNS)].to_numpy() for recording in (small, large)]
        return _is_part(columns[0], columns[1], np.array([_HAND_MPS, _HAND_MPS, _WATCH_S]))
    if not len(small.samples) or not len(large.samples) or (small.clock == "none") != (large.clock == "none"):
        return False
    names = _channels(small)
    if not names or not set(names) <= set(_channels(large)):
        return False
    one, other = _values(small, names), _values(large, names)
    if small.clock == "none":
        return _is_part(one, other, np.array([_hand_tolerance(name, small, large) for name in names]))
    tolerance = np.array([_log_tolerance(name, small, large) for name in names])
    return _is_part_in_time(
        one, small.samples["time_s"].to_numpy(), other, large.samples["time_s"].to_numpy(), tolerance
    )


def _channels(recording: Recording) -> list[str]:
    """Channels that a recording measured: speeds derived from positions are none of their own."""
    names = _HAND_CHANNELS if recording.clock == "none" else _LOG_CHANNELS
    derived = {"speed_mps"} if recording.speed_source == "position" else set()
    return [name for name in names if name not in derived and recording.samples[name].notna().any()]


def _values(recording: Recording, names: list[str]) -> Floats:
    """Values of channels, (rows, channels); of a sheet only the rows that hold a reading."""
    values = recording.samples[names].to_numpy(dtype=np.float64)
    if recording.clock == "none":
        values = values[recording.samples[["engine_rpm", "speed_mps"]].notna().any(axis=1).to_numpy()]
    return values


def _hand_tolerance(name: str, small: Recording, large: Recording) -> float:
    if name == "stated_gear":
        return 0.0
    return _HAND_RPM if name == "engine_rpm" else min(_HAND_MPS, _half_step("speed_step_mps", small, large, _HAND_MPS))


def _log_tolerance(name: str, small: Recording, large: Recording) -> float:
    if name.endswith("_deg"):
        return _PLACE_DEG
    if name == "engine_rpm":
        return _half_step("rpm_step_rpm", small, large, _HAND_RPM, coarser=True)
    return _half_step("speed_step_mps", small, large, _UNKNOWN_MPS, coarser=True)


def _half_step(name: str, small: Recording, large: Recording, unknown: float, *, coarser: bool = False) -> float:
    """Half the finer, or the coarser, step of two recordings, and a little for the way to SI and back."""
    steps = [step for step in (getattr(small, name), getattr(large, name)) if step is not None]
    if not steps:
        return unknown
    return 0.501 * float(max(steps) if coarser else min(steps))


def _alike(one: Floats, other: Floats, tolerance: Floats) -> NDArray[np.bool_]:
    """Rows that are alike in every column; a gap is like a gap."""
    same = (np.abs(one - other) <= tolerance) | (np.isnan(one) & np.isnan(other))
    return np.asarray(same.all(axis=-1))


def _is_part(small: Floats, large: Floats, tolerance: Floats) -> bool:
    """Whether rows written by hand stand in another sheet, one after the other and not by accident."""
    n = len(small)
    if not _FEWEST_ROWS <= n <= len(large):
        return False
    starts = np.flatnonzero(_alike(large[: len(large) - n + 1], small[0], tolerance))
    if not any(_alike(large[start : start + n], small, tolerance).all() for start in starts):
        return False
    if n == len(large):
        return True
    share = [np.mean(_alike(large, row, tolerance)) for row in small]
    return float(np.prod(share)) * (len(large) - n + 1) <= _ACCIDENT


def _is_part_in_time(small: Floats, small_s: Floats, large: Floats, large_s: Floats, tolerance: Floats) -> bool:
    """Whether timed rows stand in another recording at the same distances in time, whatever either clock says."""
    if not _FEWEST_ROWS <= len(small) <= len(large):
        return False
    anchor = int(np.nanargmax(small[:, 0]))
    places = np.flatnonzero(_alike(large, small[anchor], tolerance))
    if not places.size or len(np.unique(small, axis=0)) < _FEWEST_ROWS:
        return False
    apart = np.diff(large_s)
    most_s = _TIME_SHARE * float(np.median(apart[apart > 0])) if (apart > 0).any() else 0.0
    everywhere, spread = np.arange(len(small)), np.unique(np.linspace(0, len(small) - 1, _PROBES).astype(np.int64))
    for place in places:
        for chosen in (spread, everywhere):  # a few rows first, as most places fail at once
            wanted_s = small_s[chosen] + (large_s[place] - small_s[anchor])
            if not any(
                (np.abs(large_s[rows] - wanted_s) <= most_s).all()
                and _alike(large[rows], small[chosen], tolerance).all()
                for rows in _partners(chosen + (int(place) - anchor), wanted_s, large_s)
            ):
                break
        else:
            return True
    return False


def _partners(same: NDArray[np.int64], wanted_s: Floats, large_s: Floats) -> Iterator[NDArray[np.int64]]:
    """Yield the rows to compare with: those at the same places (times may stand twice), then those nearest in time."""
    if same[0] >= 0 and same[-1] < large_s.size:
        yield same
    behind = np.clip(np.searchsorted(large_s, wanted_s), 1, large_s.size - 1)
    yield behind - (wanted_s - large_s[behind - 1] < large_s[behind] - wanted_s)
