"""Slope of the road and direction of a run, as far as the track's noise allows."""

from __future__ import annotations

from typing import Final

import numpy as np

from gearfit.fitting.ratios.quantiles import estimate
from gearfit.records.results import Estimate
from gearfit.timed.trace import BoolArray, FloatArray, Trace

#: Steeper runs do not count, per cent (arrete of 27 March 1979, article 2: measured on a slope of at most 1.5 %).
STEEPEST_PERCENT: Final = 1.5
#: Standard error of a difference of two elevations where the ride does not show it (our assumption), m, and its least.
_USUAL_RISE_SD_M: Final = 2.0
_LEAST_RISE_SD_M: Final = 0.1
#: Elevations at rest this far apart in time show what they scatter by, s; so many pairs are needed.
_APART_S: Final = 8.0
_LEAST_PAIRS: Final = 5
_SHORTEST_M: Final = 20.0
_EARTH_M: Final = 6371008.8


def rise_sd_m(trace: Trace, rest: BoolArray) -> float:
    """Find the standard error of a difference of elevations 8 s apart, from what they do while the machine stands."""
    later = np.searchsorted(trace.time_s, trace.time_s + _APART_S)
    ok = later < trace.time_s.size
    first, last = np.flatnonzero(ok), later[ok]
    stands = np.concatenate([[0], np.cumsum(~rest)])
    still = stands[last + 1] == stands[first]
    change = trace.elevation_m[last[still]] - trace.elevation_m[first[still]]
    change = change[np.isfinite(change)]
    if change.size < _LEAST_PAIRS:
        return _USUAL_RISE_SD_M
    return max(float(np.sqrt(np.mean(change**2))), _LEAST_RISE_SD_M)


def grade_percent(trace: Trace, first: int, last: int, rise_sd: float) -> Estimate | None:
    """Mean slope between two samples: rise over the way (the speed's integral); None without elevation."""
    rise = float(trace.elevation_m[last] - trace.elevation_m[first])
    time_s, speed = trace.time_s[first : last + 1], trace.speed_mps[first : last + 1]
    way = float(np.sum(0.5 * (speed[1:] + speed[:-1]) * np.diff(time_s)))
    if not np.isfinite(rise) or way < _SHORTEST_M:
        return None
    return estimate(100 * rise / way, 100 * rise_sd / way, np.inf)


def too_steep(grade: Estimate | None) -> str:
    """Say that a run was up- or downhill beyond what its elevation may be off by ("" where it was not)."""
    if grade is None or min(abs(grade.lo95), abs(grade.hi95)) <= STEEPEST_PERCENT or grade.contains(0.0):
        return ""
    return f"{'uphill' if grade.value > 0 else 'downhill'}: {abs(grade.value):.1f} %"


def heading_deg(trace: Trace, first: int, last: int) -> float | None:
    """Direction from the first to the last position, clockwise from north; None where the run shows none."""
    latitude, longitude = np.radians(trace.latitude_deg[[first, last]]), np.radians(trace.longitude_deg[[first, last]])
    north = float(latitude[1] - latitude[0])
    east = float(longitude[1] - longitude[0]) * float(np.cos(latitude.mean()))
    if not np.isfinite(north + east) or np.hypot(north, east) * _EARTH_M < _SHORTEST_M:
        return None
    return float(np.degrees(np.arctan2(east, north)) % 360)


def same_direction(one_deg: FloatArray, other_deg: float) -> BoolArray:
    """Tell which headings point the same way as another, rather than the opposite one."""
    return np.asarray(np.cos(np.radians(one_deg - other_deg)) > 0)
