"""Makes one stream of a recording of speeds and the recording of engine speeds that belongs to it."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.fitting.pairing.stream import Stream
from gearfit.records.recording import Recording

FloatArray = NDArray[np.float64]

#: Standing, engine on, and for how long to show the idle speed: m/s, rev/min, s.
_STANDING_MPS: Final = 0.4
_ENGINE_ON_RPM: Final = 300.0
_LEAST_IDLE_S: Final = 4.0
#: Standard error assumed where a file gives none: receiver speed, m/s; engine speed, share of the reading.
_SPEED_SD_MPS: Final = 0.1
_RPM_RELATIVE_SD: Final = 0.002


def paired(speeds: Recording, start: int, engine: Recording, shift_s: float) -> Stream:
    """Pair the fresh speeds of one recording, from row `start` of the setup's table on, with another's engine speeds.

    `shift_s` is added to the times of the engine speeds.
    """
    s, e = speeds.samples, engine.samples
    take = np.flatnonzero(s["speed_fresh"].to_numpy() & noted(s, "speed_mps"))
    take = take[first_of_each(s["time_s"].to_numpy()[take])]
    time_s, speed, speed_sd = (s[name].to_numpy()[take] for name in ("time_s", "speed_mps", "speed_sd_mps"))
    known = np.flatnonzero(e["rpm_fresh"].to_numpy() & noted(e, "engine_rpm"))
    rpm_time_s = e["time_s"].to_numpy()[known]
    new = first_of_each(rpm_time_s)
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
        rpm_step_rpm=engine.rpm_step_rpm or 0.0,
    )


def _idle_rpm(speed_time_s: FloatArray, speed_mps: FloatArray, rpm_time_s: FloatArray, rpm: FloatArray) -> float:
    """Median engine speed while standing with the engine running; 0 where that lasts less than some seconds."""
    standing = np.interp(rpm_time_s, speed_time_s, speed_mps, left=np.nan, right=np.nan) < _STANDING_MPS
    idling = rpm[standing & (rpm > _ENGINE_ON_RPM)]
    if idling.size == 0:
        return 0.0
    usual_s = float(np.median(np.diff(rpm_time_s))) if rpm_time_s.size > 1 else 0.0
    return float(np.median(idling)) if idling.size * usual_s >= _LEAST_IDLE_S else 0.0


def noted(samples: pd.DataFrame, column: str) -> NDArray[np.bool_]:
    """Rows that hold a number in a column of numbers."""
    noted: NDArray[np.bool_] = ~np.isnan(samples[column].to_numpy())
    return noted


def first_of_each(time_s: FloatArray) -> NDArray[np.bool_]:
    """Mark the first of the values that bear one time: what stands behind it was measured later, nobody knows when."""
    return np.append(np.ones(min(time_s.size, 1), dtype=bool), time_s[1:] != time_s[:-1])
