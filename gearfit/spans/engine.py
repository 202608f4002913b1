"""Road speeds from the engine speed, where a gear is in: their error does not hang together as a receiver's does.

In gear g the road speed is v = n exp(-k_g - q u), with k_g the level that the fit has found, u the thrust per mass and
q the slip of the drive (as in the fit: usual value and spread). Noise is new with every sample; level, slip and the lag
between the two channels are common to all samples near one moment.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.levels import Levels
from gearfit.fitting.timed import StreamFit
from gearfit.spans.trace import FloatArray, IntArray, Trace

#: Slip per thrust and mass, 1/(m/s^2): usual value, and spread of the same size (our assumption, no source).
_SLIP: Final = 0.0005
#: Road load per mass F/m = 0.05 + 0.00138 v^2 (m/s^2, v in m/s): 40 CFR 86.529-98, Figure F98-9, row 250 kg.
_ROAD_LOAD: Final = (0.05, 0.00138)
#: What speed does to a tyre's circumference beyond what the level holds, share (our assumption).
_GROWTH: Final = 0.001
#: A sample belongs to the gear of the speeds around it while its ratio is this near, ln(n/v), and m/s.
_NEAR: Final = 0.02
_NEAR_MPS: Final = 0.3
#: So many samples before and after a moment are enough: what is uncertain of them then is common to all.
_MOST_BESIDE: Final = 12


@dataclass(frozen=True, eq=False)
class EngineSpeeds:
    """Speeds (m,) by engine speed on the clock of a trace's speeds, slip not taken out.

    Attributes
    ----------
    time_s, speed_mps : (m,) float
        In order of time.
    level_se : (m,) float
        Standard error of the gear's level, ln(n/v).
    gear : (m,) int
        1 and above.
    white : float
        Noise of a sample, share.
    lag_se_s : float
        Standard error of the lag between the channels.
    """

    time_s: FloatArray
    speed_mps: FloatArray
    level_se: FloatArray
    gear: IntArray
    white: float
    lag_se_s: float

    def near(self, at_s: float, reach_s: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return times, speeds with the slip taken out, and the covariance of their errors around a moment."""
        first, middle, last = np.searchsorted(self.time_s, [at_s - reach_s, at_s, at_s + reach_s])
        part = slice(max(first, middle - _MOST_BESIDE), min(last, middle + _MOST_BESIDE))
        time_s, speed, gear = self.time_s[part], self.speed_mps[part], self.gear[part]
        if time_s.size < 2:
            return time_s[:0], speed[:0], np.zeros((0, 0))
        rate = float(np.polyfit(time_s - time_s[0], speed, 1)[0])
        thrust = np.maximum(rate + _ROAD_LOAD[0] + _ROAD_LOAD[1] * speed**2, 0.0)
        slip = _SLIP * thrust * speed
        level = self.level_se[part] * speed
        error = np.diag((self.white * speed) ** 2) + np.outer(slip, slip) + (rate * self.lag_se_s) ** 2
        error += np.outer(_GROWTH * speed, _GROWTH * speed) + np.outer(level, level) * (gear[:, None] == gear[None, :])
        return time_s, speed - slip, error


def engine_speeds(found: StreamFit, levels: Levels, trace: Trace) -> EngineSpeeds | None:
    """Read the road speeds that a stream's engine speeds give; None where no sample lies within a gear.

    Parameters
    ----------
    found : StreamFit
        Engine speeds, lag and noise.
    levels : Levels
        Of the setup.
    trace : Trace
        Speeds of the same file with their gears.
    """
    stream = found.stream
    if found.noise is None or trace.time_s.size < 2:
        return None
    time_s = stream.rpm_time_s + found.lag_s
    after = np.clip(np.searchsorted(trace.time_s, time_s), 1, trace.time_s.size - 1)
    gear = np.where(trace.gear[after] == trace.gear[after - 1], trace.gear[after], 0)
    gear[(time_s < trace.time_s[0]) | (time_s > trace.time_s[-1]) | trace.broken[after]] = 0
    place = np.searchsorted(levels.gear, gear)
    known = (gear > 0) & (levels.gear[np.minimum(place, levels.gear.size - 1)] == gear) & (stream.engine_rpm > 0)
    time_s, gear, place = time_s[known], gear[known], place[known]
    speed = stream.engine_rpm[known] * np.exp(-levels.log_ratio[place])
    read = np.interp(time_s, trace.time_s, trace.speed_mps)
    close = np.abs(speed - read) < _NEAR * speed + _NEAR_MPS
    if close.sum() < 2:
        return None
    level_se = np.sqrt(np.diag(levels.covariance))[place]
    return EngineSpeeds(
        time_s=time_s[close],
        speed_mps=speed[close],
        level_se=level_se[close],
        gear=gear[close],
        white=found.noise.relative,
        lag_se_s=found.lag_se_s,
    )


def together(
    one: tuple[FloatArray, FloatArray, FloatArray], other: tuple[FloatArray, FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray, NDArray[np.float64]]:
    """Put two series of (times, speeds, covariance), independent of each other, into one in order of time."""
    time_s, speed = (np.concatenate(pair) for pair in zip(one[:2], other[:2], strict=True))
    size = one[0].size
    error = np.zeros((time_s.size, time_s.size))
    error[:size, :size], error[size:, size:] = one[2], other[2]
    order = np.argsort(time_s, kind="stable")
    return time_s[order], speed[order], error[np.ix_(order, order)]
