"""How the noted times of held engine speeds stand to a track: the ways to set the watch, and what each row is off.

A watch on the wrist of a rider is some minutes off; the sheet may be in local time and the track in UTC, whole or half
hours apart. A stopwatch began at any moment.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.records.recording import Clock

FloatArray = NDArray[np.float64]

DAY_S: Final = 86_400.0
#: Clocks of time zones are this far apart, s; the farthest from another, s.
_ZONE_STEP_S: Final = 1800.0
_FARTHEST_ZONE_S: Final = 14.5 * 3600.0
#: Error of a watch, s, and the cost of another zone: whole hours, half hours or another day (minus ln of probability).
_WATCH_SD_S: Final = 180.0
_OTHER_HOUR: Final = 1.0
_RARE: Final = 2.0
#: Settings are tried this far apart, s; a time is noted so far before or after the hold.
_STEP_S: Final = 15.0
_NOTED_SD_S: Final = 15.0
#: A time that is off costs at most this: people slip, and then order and speed decide.
_MOST_OFF: Final = 4.0
#: Cost of times that are of no use at all, whatever the setting: order and speed alone decide.
_USELESS: Final = 8.0
#: Share of the noted times that have to lie within the track.
_LEAST_SHARE: Final = 0.6


@dataclass(frozen=True)
class Watch:
    """A clock and its reading at 0 s, as in `gearfit.records.recording.Recording`."""

    clock: Clock
    start_s: float


@dataclass(frozen=True, eq=False)
class Settings:
    """Ways to set the clock of a sheet: what to add to its times to get the track's, s, and what each row is off.

    The last way, with NaN to add, is to leave the times aside.
    """

    add_s: FloatArray
    off_time: FloatArray


def settings(time_s: FloatArray, ours: Watch, start_s: FloatArray, end_s: FloatArray, theirs: Watch | None) -> Settings:
    """Find the ways to set a sheet's clock.

    Parameters
    ----------
    time_s : (R,) float
        Times of the rows on their own clock, s from its start; NaN where not noted.
    ours, theirs : Watch, Watch or None
        Clock of the sheet and of the track; None where the plateaus have no common one.
    start_s, end_s : (P,) float
        Plateaus on the track's clock, s from its start.

    Returns
    -------
    Settings
        (T,) and (T, R, P); only the last where no times can be used.
    """
    noted = np.isfinite(time_s)
    if theirs is None or ours.clock == "none" or not noted.any() or not start_s.size:
        return Settings(np.full(1, np.nan), np.zeros((1, time_s.size, start_s.size)))
    aside = np.full((1, time_s.size, start_s.size), _USELESS / time_s.size)
    until_s = time_s + _written_to_s(time_s[noted] + ours.start_s)
    lowest, highest = start_s[0] - time_s[noted].max(), end_s[-1] - time_s[noted].min()
    add_s = np.arange(np.ceil(lowest / _STEP_S), np.floor(highest / _STEP_S) + 1) * _STEP_S
    inside = (time_s[noted] + add_s[:, None] >= start_s[0] - 60) & (time_s[noted] + add_s[:, None] <= end_s[-1] + 60)
    add_s = add_s[inside.mean(axis=1) >= _LEAST_SHARE]
    early = start_s - (until_s[:, None] + add_s[:, None, None])
    late = (time_s[:, None] + add_s[:, None, None]) - end_s
    off = np.minimum(0.5 * (np.fmax(np.fmax(early, late), 0.0) / _NOTED_SD_S) ** 2, _MOST_OFF)
    off[:, ~noted] = 0.0
    unlikely = _unlikely(add_s, ours, theirs) / time_s.size
    return Settings(np.append(add_s, np.nan), np.concatenate([off + unlikely[:, None, None], aside]))


def _written_to_s(clock_s: FloatArray) -> float:
    """Step to which times were written: the minute where all are whole ones."""
    return 60.0 if np.all(np.abs(clock_s / 60.0 - np.rint(clock_s / 60.0)) < 1e-6) else 0.0


def _unlikely(add_s: FloatArray, ours: Watch, theirs: Watch) -> FloatArray:
    """Cost of each setting by what clocks do: zones, and a watch that is off."""
    if "elapsed" in (ours.clock, theirs.clock):
        return np.zeros(add_s.size)
    apart_s = add_s + theirs.start_s - ours.start_s
    if "time of day" in (ours.clock, theirs.clock):
        apart_s = (apart_s + DAY_S / 2) % DAY_S - DAY_S / 2
    zones = np.rint(apart_s / _ZONE_STEP_S)
    error = 0.5 * ((apart_s - zones * _ZONE_STEP_S) / _WATCH_SD_S) ** 2
    rare = (zones % 2 != 0) | (np.abs(apart_s) > _FARTHEST_ZONE_S)
    zone = np.where(zones == 0, 0.0, np.where(rare, _RARE, _OTHER_HOUR))
    return error + zone
