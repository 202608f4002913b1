"""Speed out of positions and times, with its noise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.importers.common.geodesy import displacement_m

Floats = NDArray[np.float64]

#: A pause longer than this many typical intervals is not bridged.
PAUSE_INTERVALS: Final = 5.0
#: Third differences of evenly timed points from which the noise is estimated, at least.
_FEWEST_DIFFERENCES: Final = 20
#: Median of |x| of a normal distribution of unit variance is 0.6745.
_NORMAL_MEDIAN: Final = 0.6744897501960817
#: Variance of a third difference (weights 1, -3, 3, -1) of white noise of unit variance.
_THIRD_DIFFERENCE_VARIANCE: Final = 20.0


@dataclass(frozen=True, eq=False)
class DerivedSpeed:
    """Speed from positions: values, standard errors (NaN unknown), position noise in m (None: too few points)."""

    speed_mps: Floats
    speed_sd_mps: Floats
    noise_m: float | None


def derive_speed(
    time_s: Floats, latitude_deg: Floats, longitude_deg: Floats, segment: NDArray[np.int64]
) -> DerivedSpeed:
    """Derive speed by central difference: displacement from the point before to the point after, over the time.

    At either end of a stretch (a segment, or a pause of more than `PAUSE_INTERVALS` typical intervals) it is the
    difference to the one neighbour; a point alone has no speed. The standard error is sqrt(2) noise / time span,
    where noise is that of one coordinate, taken from third differences of the positions (in which steady speed and
    steady acceleration cancel) by their median, so that single jumps do not count. Slow wander of a receiver
    cancels from point to point and is not in it.

    Parameters
    ----------
    time_s : numpy.ndarray
        Rising times.
    latitude_deg, longitude_deg : numpy.ndarray
        Positions.
    segment : numpy.ndarray
        Number of the segment of each point.
    """
    size = time_s.size
    joined = _joined(time_s, segment)
    before = np.arange(size) - np.concatenate(([False], joined))
    after = np.arange(size) + np.concatenate((joined, [False]))
    east_m, north_m = displacement_m(
        latitude_deg[before], longitude_deg[before], latitude_deg[after], longitude_deg[after]
    )
    span_s = np.where(after > before, time_s[after] - time_s[before], np.nan)
    noise_m = position_noise_m(time_s, latitude_deg, longitude_deg, joined)
    error = np.full(size, np.nan) if noise_m is None else np.sqrt(2.0) * noise_m / span_s
    return DerivedSpeed(np.hypot(east_m, north_m) / span_s, error, noise_m)


def _joined(time_s: Floats, segment: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether each point and the next lie in one stretch."""
    if time_s.size < 2:
        return np.zeros(0, dtype=bool)
    steps = np.diff(time_s)
    close: NDArray[np.bool_] = (np.diff(segment) == 0) & (steps <= PAUSE_INTERVALS * np.median(steps)) & (steps > 0)
    return close


def position_noise_m(
    time_s: Floats, latitude_deg: Floats, longitude_deg: Floats, joined: NDArray[np.bool_]
) -> float | None:
    """Return the standard deviation in metres of a coordinate's point-to-point noise; None with too few points."""
    if time_s.size < 4:
        return None
    steps = np.diff(time_s)
    even = joined & (np.abs(steps - np.median(steps)) <= 0.1 * np.median(steps))
    usable = even[:-2] & even[1:-1] & even[2:]
    if usable.sum() < _FEWEST_DIFFERENCES:
        return None
    east_m, north_m = displacement_m(latitude_deg[:-1], longitude_deg[:-1], latitude_deg[1:], longitude_deg[1:])
    third = np.concatenate([np.diff(part, 2)[usable] for part in (east_m, north_m)])
    return float(np.median(np.abs(third)) / _NORMAL_MEDIAN / np.sqrt(_THIRD_DIFFERENCE_VARIANCE))


def derived_note(noise_m: float | None) -> str:
    """Return the sentence that says how a speed was derived, and how noisy the positions are."""
    noise = (
        "its noise is unknown, as too few points are evenly timed"
        if noise_m is None
        else f"the positions scatter by {noise_m:.2g} m from point to point"
    )
    return (
        "Speed derived from positions: displacement on the WGS84 ellipsoid from the point before to the point after, "
        f"over the time between them; {noise}."
    )
