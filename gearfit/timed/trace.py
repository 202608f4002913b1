"""The speed trace of one recording, cleaned, with the places where nothing can be said of what lies between."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: No motorcycle gains or loses speed faster (1.1 to 1.2 g; common practice, no source), m/s^2, beside this much noise.
MOST_ACCELERATION_MPS2: Final = 11.5
_JUMP_NOISE_MPS: Final = 0.7
#: Samples farther apart than this, and than so many usual intervals, have a gap between them.
_GAP_S: Final = 1.2
_GAP_INTERVALS: Final = 2.6


@dataclass(frozen=True, eq=False)
class Trace:
    """One recording's measured speeds; arrays of one length (n,).

    Attributes
    ----------
    file : str
        File of the speeds.
    source : str
        As `Recording.speed_source`.
    clock : str
        Name of the clock; times of two traces with the same one can be compared.
    start_s : float
        Time of that clock at `time_s` = 0.
    time_s, speed_mps : float arrays
        Times strictly ascending.
    speed_sd_mps : float array
        Standard error from reading, noise aside; 0 where not stated.
    engine_rpm : float array
        NaN where unknown.
    gear : int array
        0 where none.
    elevation_m, latitude_deg, longitude_deg : float arrays
        NaN where unknown.
    interval_s : float
        Usual time between samples.
    broken : (n,) bool
        Between this sample and the one before, reception failed or the speed jumps.
    repeated : int
        Samples that bore the time of the one before and were merged with it.
    has_gears : bool
        Whether any sample has a gear.
    """

    file: str
    source: str
    clock: str
    start_s: float
    time_s: FloatArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray
    engine_rpm: FloatArray
    gear: IntArray
    elevation_m: FloatArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    interval_s: float
    broken: BoolArray
    repeated: int
    has_gears: bool


def make_trace(
    time_s: FloatArray,
    speed_mps: FloatArray,
    *,
    file: str = "",
    source: str = "receiver",
    clock: str = "",
    start_s: float = 0.0,
    speed_sd_mps: FloatArray | None = None,
    engine_rpm: FloatArray | None = None,
    gear: IntArray | None = None,
    elevation_m: FloatArray | None = None,
    latitude_deg: FloatArray | None = None,
    longitude_deg: FloatArray | None = None,
) -> Trace:
    """Clean a trace: drop rows without time or speed, take the mean of speeds with one time, mark gaps and jumps.

    Parameters
    ----------
    time_s, speed_mps : (n,) float
        In the order of the file, times not descending.
    file, source, clock, start_s
        As in `Trace` (`clock` "": the file's own).
    speed_sd_mps, engine_rpm, elevation_m, latitude_deg, longitude_deg : (n,) float, optional
        Other channels.
    gear : (n,) int, optional
        0 where none.
    """
    nothing = np.full(time_s.size, np.nan)
    columns = [
        nothing if c is None else c for c in (speed_sd_mps, engine_rpm, elevation_m, latitude_deg, longitude_deg)
    ]
    gears = np.zeros(time_s.size, dtype=np.int64) if gear is None else gear
    keep = np.isfinite(time_s) & np.isfinite(speed_mps)
    time, speed, gears = time_s[keep], speed_mps[keep], gears[keep]
    columns = [column[keep] for column in columns]
    first = np.flatnonzero(np.diff(time, prepend=-np.inf) > 0)
    repeated = time.size - first.size
    if repeated:
        speed = np.add.reduceat(speed, first) / np.diff(np.append(first, time.size))
        time, gears, columns = time[first], gears[first], [column[first] for column in columns]
    apart = np.diff(time)
    usual = float(np.median(apart)) if apart.size else 1.0
    jumped = np.abs(np.diff(speed)) > MOST_ACCELERATION_MPS2 * apart + _JUMP_NOISE_MPS
    broken = np.concatenate([[True], (apart > max(_GAP_S, _GAP_INTERVALS * usual)) | jumped])[: time.size]
    sd, rpm, elevation, latitude, longitude = columns
    return Trace(
        file=file,
        source=source,
        clock=clock or f"of {file}",
        start_s=start_s,
        time_s=time,
        speed_mps=speed,
        speed_sd_mps=np.nan_to_num(sd),
        engine_rpm=rpm,
        gear=gears,
        elevation_m=elevation,
        latitude_deg=latitude,
        longitude_deg=longitude,
        interval_s=usual,
        broken=broken,
        repeated=repeated,
        has_gears=bool(np.any(gears > 0)),
    )
