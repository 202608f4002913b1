"""Road speeds from the engine speed, where a gear is in: their error does not hang together as a receiver's does.

Noise is new with every sample. The errors of level, lag, slip and tyre growth (`fitting.drive`) are common to all
samples of a ride, at the start of a roll-on and at its end.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from gearfit.fitting.ratios.drive import Drive
from gearfit.fitting.ratios.timed_fit import StreamFit
from gearfit.timed.noise import scatter_shown
from gearfit.timed.trace import FloatArray, IntArray, Trace

#: A sample belongs to the gear of the speeds around it while its ratio is this near, ln(n/v), and m/s.
_NEAR: Final = 0.02
_NEAR_MPS: Final = 0.3
#: No engine speed is trusted better than this, share.
_LEAST_WHITE: Final = 0.0005
#: So many samples before and after a moment are enough: what is uncertain of them then is common to all.
_MOST_BESIDE: Final = 12


@dataclass(frozen=True, eq=False)
class Speeds:
    """Speeds (n,) with the covariance (n, n) of the errors that are theirs alone, and columns (n, p) of common ones."""

    time_s: FloatArray
    speed_mps: FloatArray
    own: FloatArray
    common: FloatArray


@dataclass(frozen=True, eq=False)
class EngineSpeeds:
    """Engine speeds (m,) in gear on the clock of a trace's speeds.

    Attributes
    ----------
    time_s, engine_rpm : (m,) float
        In order of time.
    gear : (m,) int
        1 and above.
    white : float
        Noise of a sample, share.
    drive : Drive
        From engine speed to road speed.
    """

    time_s: FloatArray
    engine_rpm: FloatArray
    gear: IntArray
    white: float
    drive: Drive

    def near(self, at_s: float, reach_s: float) -> Speeds:
        """Return the road speeds around a moment (none where fewer than two are known)."""
        first, middle, last = np.searchsorted(self.time_s, [at_s - reach_s, at_s, at_s + reach_s])
        part = slice(max(first, middle - _MOST_BESIDE), min(last, middle + _MOST_BESIDE))
        time_s, rpm, gear = self.time_s[part], self.engine_rpm[part], self.gear[part]
        if time_s.size < 2:
            time_s, rpm, gear = time_s[:0], rpm[:0], gear[:0]
        rate = float(np.polyfit(time_s - time_s[0], self.drive.speeds(rpm, gear, 0.0)[0], 1)[0]) if time_s.size else 0.0
        speed, common = self.drive.speeds(rpm, gear, rate)
        return Speeds(time_s, speed, np.diag((self.white * speed) ** 2), common)


def engine_speeds(found: StreamFit, trace: Trace) -> EngineSpeeds | None:
    """Pick the engine speeds of a stream that tell the road speed; None where no sample lies within a gear.

    Parameters
    ----------
    found : StreamFit
        Engine speeds, lag, noise and drive.
    trace : Trace
        Speeds of the same file with their gears.
    """
    stream, drive = found.stream, found.drive
    if found.noise is None or drive is None or trace.time_s.size < 2:
        return None
    time_s = stream.rpm_time_s + found.lag_s
    after = np.clip(np.searchsorted(trace.time_s, time_s), 1, trace.time_s.size - 1)
    gear = np.where(trace.gear[after] == trace.gear[after - 1], trace.gear[after], 0)
    gear[(time_s < trace.time_s[0]) | (time_s > trace.time_s[-1]) | trace.broken[after]] = 0
    known = np.isin(gear, drive.gear) & (stream.engine_rpm > 0)
    time_s, rpm, gear = time_s[known], stream.engine_rpm[known], gear[known]
    speed = drive.speeds(rpm, gear, 0.0)[0]
    close = np.abs(speed - np.interp(time_s, trace.time_s, trace.speed_mps)) < _NEAR * speed + _NEAR_MPS
    if close.sum() < 2:
        return None
    time_s, rpm, gear = time_s[close], rpm[close], gear[close]
    # Samples in gear scatter for other reasons too: what their own neighbours show counts where it is less.
    white = min(found.noise.relative, scatter_shown(time_s, np.log(rpm), np.diff(gear, prepend=gear[0]) == 0))
    return EngineSpeeds(time_s, rpm, gear, max(white, _LEAST_WHITE), drive)


def together(one: Speeds, other: Speeds) -> Speeds:
    """Put two series, independent of each other, into one in order of time."""
    time_s, speed = np.concatenate([one.time_s, other.time_s]), np.concatenate([one.speed_mps, other.speed_mps])
    size, columns = one.time_s.size, one.common.shape[1]
    own = np.zeros((time_s.size, time_s.size))
    own[:size, :size], own[size:, size:] = one.own, other.own
    common = np.zeros((time_s.size, columns + other.common.shape[1]))
    common[:size, :columns], common[size:, columns:] = one.common, other.common
    order = np.argsort(time_s, kind="stable")
    return Speeds(time_s[order], speed[order], own[np.ix_(order, order)], common[order])
