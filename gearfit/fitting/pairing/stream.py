"""One speed series with its engine speeds: to each moment of the speed, the engine speed of the same moment.

The speed's moments lead: to each of them the engine speed is interpolated between its two neighbours, after the lag
is taken out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.local_lines import Series
from gearfit.fitting.pairing.medians import median

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Engine speed is not interpolated over more than this many of its own usual intervals ...
_MAX_INTERVALS: Final = 2.6
#: ... nor ever refused below this gap, s.
_SMALLEST_GAP_S: Final = 0.35
#: Engine-speed channels with no more than this between values, s, are fast.
_FAST_S: Final = 0.25
#: Half the window over which fast engine-speed channels are smoothed, s (at least; four samples lie in it).
_SMOOTHING_S: Final = 0.25
#: Half the window over which their rate of change is found, s.
_RATE_S: Final = 0.5


@dataclass(frozen=True, eq=False)
class Stream:
    """One timed speed series with the engine-speed series that belongs to it, on one clock.

    Attributes
    ----------
    file : str
        File of the speeds.
    rows : (n,) int
        Positions of the speed samples in the setup's table.
    time_s, speed_mps, speed_sd_mps : (n,) float
        Measured speeds.
    rpm_time_s, engine_rpm, rpm_sd_rpm : (m,) float
        Measured engine speeds, times ascending.
    speed_step_mps : float
        Step in which the speeds were written (0 where fine).
    idle_rpm : float
        Engine speed while standing (0 where the ride does not show it).
    engine_file : str
        File of the engine speeds ("": the same).
    engine_shift_s : float
        What was added to that file's times.
    rpm_step_rpm : float
        Step in which the engine speeds were written (0 where not known).
    engine_offset_sd_rpm : float
        Standard deviation of what they may still be wrong by throughout, the same in all setups.
    """

    file: str
    rows: IntArray
    time_s: FloatArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray
    rpm_time_s: FloatArray
    engine_rpm: FloatArray
    rpm_sd_rpm: FloatArray
    speed_step_mps: float
    idle_rpm: float
    engine_file: str = ""
    engine_shift_s: float = 0.0
    rpm_step_rpm: float = 0.0
    engine_offset_sd_rpm: float = 0.0

    @cached_property
    def rpm_interval_s(self) -> float:
        """Usual time between two engine speeds, s; infinite with fewer than two."""
        return median(np.diff(self.rpm_time_s)) if self.rpm_time_s.size > 1 else np.inf

    @property
    def fast(self) -> bool:
        """Whether the engine speed comes often enough to be smoothed."""
        return self.rpm_interval_s <= _FAST_S

    def engine_at_speed(self, lag_s: float) -> tuple[FloatArray, FloatArray]:
        """Engine speed that belongs to each speed if the engine channel leads by `lag_s`, and d ln n/dt there.

        The speed at clock time t is the machine's at t - lag_s, as the engine channel has it at t - lag_s. Fast
        channels are smoothed by a straight line over a quarter of a second or more to both sides, slow ones
        interpolated: lines in the engine speed itself, which a steady acceleration moves evenly, not in its logarithm,
        which it bends (a line in that is (h a/v)^2 / 8 low between samples h apart: half a per cent at 1 Hz).

        Returns
        -------
        (n,), (n,) float
            rev/min and 1/s; NaN where no engine speed was near.
        """
        value, slope, smooth = self._paired(lag_s)
        if self.fast:
            _, smooth_slope = self._series.line(self.time_s - lag_s, max(_RATE_S, self._window_s))
            slope = np.where(smooth, smooth_slope, slope)
        return value, slope / value

    def rpm_at_speed(self, lag_s: float) -> FloatArray:
        """Engine speed alone, as `engine_at_speed`."""
        return self._paired(lag_s)[0]

    @cached_property
    def interval_s(self) -> float:
        """Usual time between two speeds, s; 1 with fewer than two."""
        return median(np.diff(self.time_s)) if self.time_s.size > 1 else 1.0

    @cached_property
    def rpm_sd_at_speed(self) -> FloatArray:
        """Standard error of the engine speed at each speed sample, from resolution, rev/min."""
        return np.interp(self.time_s, self.rpm_time_s, self.rpm_sd_rpm)

    def _paired(self, lag_s: float) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
        """Engine speed at each speed, its slope between the neighbours, and where the engine speed was smoothed."""
        at_s = self.time_s - lag_s
        largest_gap_s = max(_SMALLEST_GAP_S, _MAX_INTERVALS * self.rpm_interval_s)
        if self.fast:
            value, slope, smooth = self._series.line_or_interpolated(at_s, self._window_s, largest_gap_s)
        else:
            value, slope = self._series.interpolated(at_s, largest_gap_s)
            smooth = np.zeros(at_s.size, dtype=bool)
        return np.maximum(value, 1.0), slope, smooth

    @property
    def _window_s(self) -> float:
        return max(_SMOOTHING_S, 2.1 * self.rpm_interval_s)

    @cached_property
    def _series(self) -> Series:
        return Series(self.rpm_time_s, np.maximum(self.engine_rpm, 1.0))
