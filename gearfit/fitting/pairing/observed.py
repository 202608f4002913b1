"""A stream at one lag and one speed offset: what is known of ln(n/v) at each moment."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.places import Places
from gearfit.fitting.pairing.stream import Stream

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Slower than this no ratio is read: clutch and receiver noise rule. Lowest engine speed taken for running, rev/min.
STANDING_MPS: Final = 2.0
LEAST_RPM: Final = 400.0
#: Below this many times the idle speed the clutch may be out or in: UN GTR 15, Annex 2, paragraph 3.3 ("undefined").
NEAR_IDLE: Final = 1.15
#: Half the window over which changes are looked at, s.
_HALF_WINDOW_S: Final = 0.5


@dataclass(frozen=True, eq=False)
class Observed:
    """Samples of one stream that have a ratio; arrays of one length (n,).

    Attributes
    ----------
    lag_s : float
        Lag at which speed and engine speed were paired. Whoever pairs them again does it with this one: at another,
        however near, the first and the last sample may find no engine speed.
    index : int array
        Position in the stream.
    time_s, speed_mps, engine_rpm, log_ratio, log_ratio_sd : float arrays
        `log_ratio` is ln of rev/min per m/s.
    seconds : float array
        Riding time that each sample stands for.
    rpm_rate : float array
        Rate of change of ln engine speed at the sample, 1/s.
    window_s : float
        Length of the window across which `speed_rate` and `ratio_rate` look.
    """

    lag_s: float
    index: IntArray
    time_s: FloatArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray
    engine_rpm: FloatArray
    rpm_sd_rpm: FloatArray
    log_ratio: FloatArray
    log_ratio_sd: FloatArray
    seconds: FloatArray
    rpm_rate: FloatArray
    window_s: float

    @cached_property
    def speed_rate(self) -> FloatArray:
        """Rate of change of ln speed across a window around each sample, 1/s; NaN where the window is not covered."""
        return self._rate(np.log(self.speed_mps))

    @cached_property
    def ratio_rate(self) -> FloatArray:
        """Rate of change of ln ratio, as `speed_rate`."""
        return self._rate(self.log_ratio)

    @cached_property
    def _ends(self) -> tuple[IntArray, IntArray]:
        """First and last sample of the window around each."""
        places = Places(self.time_s)
        return places.before(self.time_s - self.window_s / 2), places.until(self.time_s + self.window_s / 2) - 1

    def _rate(self, values: FloatArray) -> FloatArray:
        before, after = self._ends
        length_s = self.time_s[after] - self.time_s[before]
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(length_s > self.window_s / 2, (values[after] - values[before]) / length_s, np.nan)


def observe(stream: Stream, lag_s: float, offset_mps: float) -> Observed:
    """Pair a stream at `lag_s`, add `offset_mps` to its speeds, keep the samples that move with a running engine."""
    speed = stream.speed_mps + offset_mps
    rpm, rpm_rate = stream.engine_at_speed(lag_s)
    rpm_sd = stream.rpm_sd_at_speed
    keep = moving(stream, speed, rpm)
    time_s, speed, rpm = stream.time_s.take(keep), speed.take(keep), rpm.take(keep)
    speed_sd, rpm_sd = stream.speed_sd_mps.take(keep), rpm_sd.take(keep)
    usual_s = stream.interval_s
    return Observed(
        lag_s=lag_s,
        index=keep,
        time_s=time_s,
        speed_mps=speed,
        speed_sd_mps=speed_sd,
        engine_rpm=rpm,
        rpm_sd_rpm=rpm_sd,
        log_ratio=np.log(rpm / speed),
        log_ratio_sd=np.sqrt((speed_sd / speed) ** 2 + (rpm_sd / rpm) ** 2),
        seconds=np.full(keep.size, usual_s),
        rpm_rate=rpm_rate.take(keep),
        window_s=2 * max(_HALF_WINDOW_S, 1.01 * usual_s),
    )


def moving(stream: Stream, speed_mps: FloatArray, engine_rpm: FloatArray) -> IntArray:
    """Positions of the samples of a stream that move with a running engine."""
    return np.flatnonzero((speed_mps > STANDING_MPS) & (engine_rpm > max(LEAST_RPM, NEAR_IDLE * stream.idle_rpm)))
