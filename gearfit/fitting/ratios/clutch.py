"""Whether the engine runs ahead of the road under load in the upper gears, as it does when the clutch slips.

What the clutch carries is a torque, so slip belongs to the engine's torque and not to a gear: it is nil at light load,
grows with the load, comes and goes with heat, and is never negative. Wrong teeth move a gear at every load alike.
Levels and lag are therefore taken from light load alone, and pulls under high load are held against them one by one.
With the torque per mass at the crankshaft w = u v/n (u the thrust per mass of (2)) and a pull of mean ln(n/v), rate r
and thrust u,

    e = mean[ ln(n/v) - k_g - L r - q u ] ,                                                                (16a)

where k_g, L and q come from the samples at light load.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.joint import USUAL_SLIP, USUAL_SLIP_SD, thrust_per_mass
from gearfit.fitting.ratios.settled_samples import USUAL_NOISE, with_slack
from gearfit.fitting.ratios.timed_fit import StreamFit, TimedFit
from gearfit.fitting.which_gear.gear_path import most_likely_path
from gearfit.fitting.which_gear.ladder import Ladder
from gearfit.fitting.which_gear.passage import bounds, passages

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Gears below are left out: starts slip the clutch on purpose there, and a tyre spins (ours).
LOWEST_GEAR: Final = 3
#: Shares of the highest torque of the ride (its 98th percentile) up to which load is light and from which it is high.
LIGHT: Final = 0.4
HIGH: Final = 0.6
_HIGHEST: Final = 98.0
#: A pull has this many samples and lasts this long, s, away from changes of gear; it slips where it is ahead by this
#: much, ln ratio, and so many standard errors (ours).
_LEAST_SAMPLES: Final = 4
_LEAST_S: Final = 0.5
LEAST_SLIP: Final = 0.01
_LEAST_Z: Final = 4.0
#: Samples outside a gear may be slip up to this, ln ratio, while ln(n/v) changes no faster than this, 1/s: a change of
#: gear moves it by 0.1 to 0.3 in under half a second (ours).
_MOST_SLIP: Final = 0.15
_STEADY: Final = 0.05
#: Pulls that slip before anything is said, and how many times as many as pulls that are behind by as much.
_LEAST_PULLS: Final = 2
_TIMES_BEHIND: Final = 4
#: Light load needs so many samples in all.
_LEAST_LIGHT: Final = 50
#: Share of the moving samples that lies at the gears all the same where no levels were found (ours).
_LEAST_IN_GEAR: Final = 0.5
#: What two passages in one gear differ by beside noise, ln ratio (road, tyre; ours); spread of the lag beforehand, s.
_SLACK: Final = 0.003
_LAG_SD_S: Final = 0.1


@dataclass(frozen=True)
class Slip:
    """Pulls in which the engine ran ahead of the road.

    Attributes
    ----------
    gears : tuple of int
        Gears of those pulls.
    pulls, of : int
        Pulls that slipped, and pulls under high load in all.
    usual, highest : float
        Median and highest slip of those pulls, ln ratio.
    """

    gears: tuple[int, ...]
    pulls: int
    of: int
    usual: float
    highest: float


@dataclass(frozen=True, eq=False)
class _Loaded:
    """Samples of one stream with a gear: what ln(n/v) is beside, and the torque per mass at the crankshaft."""

    time_s: FloatArray
    gear: IntArray
    log_ratio: FloatArray
    sd: FloatArray
    common_sd: FloatArray
    rate: FloatArray
    thrust: FloatArray
    torque: FloatArray
    light: NDArray[np.bool_]
    passage: IntArray


def clutch_slip(fit: TimedFit, ladder: Ladder | None) -> Slip | None:
    """Return what slips under load in a setup's timed logs; None where nothing does, or nothing can be said.

    Parameters
    ----------
    fit : TimedFit
        Of one setup. Where much slip left too few samples at the gears for levels, they are sought along the ladder.
    ladder : Ladder or None
        What was known of the gears beforehand.
    """
    streams, centres = fit.streams, fit.centres
    if fit.levels is None:
        if ladder is None or fit.shift is None:
            return None
        centres = ladder.log_ratio + fit.shift.shift
        streams = tuple(_along(stream, centres) for stream in streams)
        if np.mean(np.concatenate([stream.path for stream in streams]) >= 0) < _LEAST_IN_GEAR:
            return None
    pulls = [pull for stream in streams for pull in _pulls(stream, centres)]
    ahead = [pull for pull in pulls if pull[1] >= LEAST_SLIP and pull[1] >= _LEAST_Z * pull[2]]
    behind = sum(pull[1] <= -LEAST_SLIP and pull[1] <= -_LEAST_Z * pull[2] for pull in pulls)
    if len(ahead) < max(_LEAST_PULLS, _TIMES_BEHIND * behind):
        return None
    slips = np.array([slip for _, slip, _ in ahead])
    gears = tuple(sorted({gear for gear, _, _ in ahead}))
    return Slip(gears, len(ahead), len(pulls), float(np.median(slips)), float(np.max(slips)))


def _along(stream: StreamFit, centres: FloatArray) -> StreamFit:
    """Give a stream that showed no gears the path and the noise that it would have."""
    o = stream.observed
    path = most_likely_path(o.time_s, o.log_ratio, with_slack(o.log_ratio_sd), centres)
    return replace(stream, path=path, noise=USUAL_NOISE)


def _pulls(stream: StreamFit, centres: FloatArray) -> list[tuple[int, float, float]]:
    """Gear, ln ratio ahead and its standard error of each pull under high load."""
    loaded = _loaded(stream, centres)
    if loaded is None:
        return []
    known = _light_load(loaded, centres)
    if known is None:
        return []
    mean, covariance = known
    highest = float(np.percentile(loaded.torque[loaded.passage >= 0], _HIGHEST))
    hard = (loaded.torque >= HIGH * highest) & (loaded.passage >= 0) & (loaded.gear >= LOWEST_GEAR)
    number = passages(loaded.time_s, np.where(hard, loaded.gear, -1))
    found = []
    for first, last in zip(*bounds(number), strict=True):
        part = slice(first, last + 1)
        if loaded.time_s[last] - loaded.time_s[first] < _LEAST_S or last + 1 - first < _LEAST_SAMPLES:
            continue
        design = _design(loaded, centres.size)[part].mean(axis=0)
        ahead = float(loaded.log_ratio[part].mean() - design @ mean)
        own = float(np.mean(loaded.sd[part] ** 2)) / (last + 1 - first) + float(np.mean(loaded.common_sd[part]) ** 2)
        error = float(np.sqrt(own + _SLACK**2 + design @ covariance @ design))
        found.append((int(loaded.gear[first]), ahead, error))
    return found


def _light_load(loaded: _Loaded, centres: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Levels, lag and slip, with their covariance, from the samples at light load."""
    use = loaded.light
    if int(use.sum()) < _LEAST_LIGHT:
        return None
    design = _design(loaded, centres.size)[use]
    precision = np.concatenate([np.full(centres.size, 1e-8), [1 / _LAG_SD_S**2, 1 / USUAL_SLIP_SD**2]])
    prior = np.concatenate([centres, [0.0, USUAL_SLIP]])
    weight = 1 / (loaded.sd**2 + loaded.common_sd**2 + _SLACK**2)[use]
    information = np.diag(precision) + design.T @ (weight[:, None] * design)
    covariance = np.linalg.inv(information)
    mean = covariance @ (precision * prior + design.T @ (weight * loaded.log_ratio[use]))
    scores = np.diag(precision)
    force = design * (weight * (loaded.log_ratio[use] - design @ mean))[:, None]
    member = np.unique(loaded.passage[use], return_inverse=True)[1]
    sums = np.zeros((int(member.max()) + 1, design.shape[1]))
    np.add.at(sums, member, force)
    return mean, covariance @ (scores + sums.T @ sums) @ covariance


def _design(loaded: _Loaded, gears: int) -> FloatArray:
    columns = np.zeros((loaded.gear.size, gears + 2))
    columns[np.arange(loaded.gear.size), loaded.gear - 1] = 1.0
    columns[:, gears], columns[:, gears + 1] = loaded.rate, loaded.thrust
    return columns


def _loaded(stream: StreamFit, centres: FloatArray) -> _Loaded | None:
    o, noise = stream.observed, stream.noise
    if noise is None or o.index.size == 0:
        return None
    rate = o.speed_rate
    thrust = thrust_per_mass(np.nan_to_num(rate * o.speed_mps), o.speed_mps)
    torque = thrust * o.speed_mps / o.engine_rpm
    in_gear = np.isfinite(rate) & (stream.path >= 0)
    if not in_gear.any():
        return None
    highest = float(np.percentile(torque[in_gear], _HIGHEST))
    place = _places(stream, centres, np.isfinite(rate) & (torque >= HIGH * highest))
    number = passages(o.time_s, place)
    number = np.where(_well_inside(o.time_s, number, o.window_s / 2) & np.isfinite(rate), number, -1)
    light = (number >= 0) & (stream.path >= 0) & (torque <= LIGHT * highest)
    return _Loaded(
        o.time_s,
        np.maximum(place, 0) + 1,
        o.log_ratio,
        np.hypot(noise.white_mps / o.speed_mps, noise.relative),
        noise.correlated_mps / o.speed_mps,
        np.nan_to_num(rate),
        thrust,
        torque,
        light,
        number,
    )


def _well_inside(time_s: FloatArray, number: IntArray, margin_s: float) -> NDArray[np.bool_]:
    """Mark the samples whose window, across which rates are taken, lies in their passage as a whole."""
    first, last = bounds(number)
    at = np.maximum(number, 0)
    away = (time_s >= time_s[first][at] + margin_s) & (time_s <= time_s[last][at] - margin_s)
    return np.asarray((number >= 0) & away)


def _places(stream: StreamFit, centres: FloatArray, hard: NDArray[np.bool_]) -> IntArray:
    """Positions of the gears, -1 for none; where the engine pulls hard in none, the gear beside that lies next below.

    That is where much slip leaves a gear's samples.
    """
    path, log_ratio = stream.path.copy(), stream.observed.log_ratio
    seen = np.flatnonzero(path >= 0)
    steady = np.abs(np.nan_to_num(stream.observed.ratio_rate, nan=np.inf)) <= _STEADY
    lost = np.flatnonzero((path < 0) & hard & steady)
    if seen.size == 0 or lost.size == 0:
        return path
    after = np.searchsorted(seen, lost)
    beside = np.stack([path[seen[np.clip(after - 1, 0, None)]], path[seen[np.clip(after, None, seen.size - 1)]]])
    ahead = log_ratio[lost] - centres[beside]
    ahead = np.where((ahead > 0) & (ahead < _MOST_SLIP), ahead, np.inf)
    nearest = np.argmin(ahead, axis=0)
    found = np.isfinite(ahead[nearest, np.arange(lost.size)])
    path[lost[found]] = beside[nearest, np.arange(lost.size)][found]
    return path
