"""Which stretches were ridden with the throttle open: against the setup's own envelope of torque over engine speed.

The torque implied by the acceleration of each sample has noise, so the highest value is not the envelope: each
passage of a gear is first averaged within a cell of engine speed (three samples at least); of these averages the second
highest counts (one glitch is not an envelope), smoothed over the neighbouring cells by their median; and the envelope
is then moved to the median of the samples near it, twice. A stretch is open throttle while it stays near the envelope.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.thrust.machine import lever_per_m
from gearfit.thrust.resistance import Resistance
from gearfit.thrust.traces import Trace, accelerations

FloatArray = NDArray[np.float64]

#: Half the window of the local slope, s.
HALF_WIDTH_S: Final = 0.4
#: Cell of engine speed as a share of the highest seen, and fewest samples of a passage in it.
_CELLS: Final = 14
_LEAST_IN_CELL: Final = 3
#: How far below the envelope still counts as open throttle, share; and in noise of the slope.
_NEAR: Final = 0.12
_NEAR_NOISE: Final = 2.0
#: Noise of a slope over the usual window, m/s^2, where it is not worth more than this guess: see `_slope_sd`.
_LEAST_STRETCH_S: Final = 0.45
#: A run reaches this share of the highest engine speed of all, and its stretches lie no farther apart than a shift, s.
_REACHES: Final = 0.75
_LONGEST_SHIFT_S: Final = 1.6
#: Share of the time on the road, faster than this, m/s, whose highest engine speeds may be blips of the throttle.
_BLIPS: Final = 0.005
_MOVING_MPS: Final = 5.0
#: Acceleration below which nobody rides with the throttle open in a gear that pulls, m/s^2.
_LEAST_MPS2: Final = 0.25


@dataclass(frozen=True, eq=False)
class Open:
    """A stretch in one gear with the throttle open: trace, place in it, gear."""

    trace: Trace
    place: slice
    gear: int


@dataclass(frozen=True, eq=False)
class _Cloud:
    rpm: FloatArray
    torque: FloatArray
    noise: FloatArray
    passage: NDArray[np.int64]


def implied_torque(
    trace: Trace, speed_per_rpm: dict[int, float], wheels: float, engine_m2: float, drag: Resistance
) -> tuple[FloatArray, FloatArray]:
    """Torque per mass that each sample's acceleration implies, and its noise; NaN outside gears."""
    pull = accelerations(trace, HALF_WIDTH_S)
    lever = np.array([lever_per_m(speed_per_rpm[g]) if g in speed_per_rpm else np.nan for g in range(32)])[trace.gear]
    inertia = 1 + wheels + engine_m2 * lever**2
    load = drag.rolling_mps2 + drag.air_per_m * trace.speed_mps**2 + trace.hill_mps2
    torque = np.where(pull > _LEAST_MPS2, (inertia * pull + load) / lever, np.nan)
    return torque, inertia * _slope_sd(trace) / lever


def _slope_sd(trace: Trace) -> float:
    """Noise of the local slope, from how it differs from one window to the next while nothing happens in gear."""
    half = max(HALF_WIDTH_S, 2.1 * trace.step_s)
    still = accelerations(trace, half)
    apart = max(1, round(2 * half / trace.step_s))
    change = np.abs(still[apart:] - still[:-apart])
    same = np.isfinite(change) & (trace.gear[apart:] == trace.gear[:-apart])
    if same.sum() < 30:
        return 0.15
    # The calm half of a ride shows the noise: a quarter of the |x| of a normal variable lies below 0.319 sd.
    return max(float(np.quantile(change[same], 0.25)) / 0.319 / 2**0.5, 0.05)


def open_throttle(
    trace_list: list[Trace], speed_per_rpm: dict[int, float], wheels: float, engine_m2: float, drag: Resistance
) -> list[Open]:
    """Find the stretches ridden with the throttle open.

    Parameters
    ----------
    trace_list : list of Trace
        The setup's logs.
    speed_per_rpm : dict of int to float
        Road speed per engine speed in each gear, m/s per rev/min.
    wheels, engine_m2 : float
        Turning parts per mass, as assumed.
    drag : Resistance
        As assumed.
    """
    clouds, count = [], 0
    for trace in trace_list:
        torque, noise = implied_torque(trace, speed_per_rpm, wheels, engine_m2, drag)
        passage = np.full(torque.size, -1)
        for piece in trace.pieces(trace.gear > 0):
            passage[piece] = count
            count += 1
        rpm = _geared_rpm(trace, speed_per_rpm)
        clouds.append(_Cloud(rpm, np.where(np.isfinite(rpm), torque, np.nan), noise, passage))
    usable = [np.isfinite(c.torque) for c in clouds]
    if not clouds or sum(int(u.sum()) for u in usable) < _LEAST_IN_CELL:
        return []
    whole = _Cloud(
        *(
            np.concatenate([getattr(c, name)[u] for c, u in zip(clouds, usable, strict=True)])
            for name in ("rpm", "torque", "noise", "passage")
        )
    )
    edges = np.linspace(0.0, float(whole.rpm.max()) * 1.0001, _CELLS + 1)
    level = _moved(whole, edges, _first_envelope(whole, edges))
    found = []
    for trace, cloud in zip(trace_list, clouds, strict=True):
        found += _stretches(trace, cloud, edges, level)
    return _of_runs(found, speed_per_rpm, _REACHES * _highest_rpm(trace_list))


def _highest_rpm(trace_list: list[Trace]) -> float:
    """Engine speed that the ride reached on the road, but for its fastest half per cent: a blip is no riding."""
    moving = np.concatenate([t.engine_rpm[t.speed_mps > _MOVING_MPS] for t in trace_list])
    moving = moving[np.isfinite(moving)]
    return float(np.quantile(moving, 1 - _BLIPS)) if moving.size else 0.0


def _of_runs(stretches: list[Open], speed_per_rpm: dict[int, float], enough_rpm: float) -> list[Open]:
    """Keep what belongs to a run that reaches high engine speeds, as high as those ridden at all.

    Where the throttle was never open, or the runs show no stretch (gears that last a second, recorded once a second),
    the envelope is that of ordinary riding and would pass for the engine's.
    """
    if not stretches:
        return []
    highest = [float(s.trace.speed_mps[s.place].max()) / speed_per_rpm[s.gear] for s in stretches]
    enough = max(_REACHES * max(highest), enough_rpm)
    chains: list[list[int]] = []
    for index, stretch in enumerate(stretches):
        before = stretches[index - 1] if index else stretch
        apart = stretch.trace.time_s[stretch.place.start] - before.trace.time_s[before.place.stop - 1]
        if index and before.trace is stretch.trace and apart < _LONGEST_SHIFT_S and stretch.gear >= before.gear:
            chains[-1].append(index)
        else:
            chains.append([index])
    return [stretches[i] for chain in chains if max(highest[i] for i in chain) >= enough for i in chain]


def _geared_rpm(trace: Trace, speed_per_rpm: dict[int, float]) -> FloatArray:
    per_rpm = np.array([speed_per_rpm.get(g, np.nan) for g in range(32)])[trace.gear]
    found: FloatArray = trace.speed_mps / per_rpm
    return found


def _first_envelope(cloud: _Cloud, edges: FloatArray) -> FloatArray:
    cell = np.digitize(cloud.rpm, edges) - 1
    level = np.full(_CELLS, np.nan)
    for k in range(_CELLS):
        inside = cell == k
        passages, place, counts = np.unique(cloud.passage[inside], return_inverse=True, return_counts=True)
        if passages.size == 0:
            continue
        means = np.bincount(place, cloud.torque[inside]) / counts
        means = np.sort(means[counts >= min(_LEAST_IN_CELL, counts.max())])
        level[k] = means[-2] if means.size > 2 else means[-1]
    padded = np.r_[np.nan, level, np.nan]
    around = np.stack([padded[:-2], padded[1:-1], padded[2:]])
    known = np.isfinite(level)
    smooth = np.full(_CELLS, np.nan)
    smooth[known] = np.nanmedian(around[:, known], axis=0)
    return smooth


def _at(edges: FloatArray, level: FloatArray, rpm: FloatArray) -> FloatArray:
    known = np.isfinite(level)
    found: FloatArray = np.interp(rpm, ((edges[1:] + edges[:-1]) / 2)[known], level[known])
    return found


def _moved(cloud: _Cloud, edges: FloatArray, level: FloatArray) -> FloatArray:
    cell = np.digitize(cloud.rpm, edges) - 1
    for _ in range(2):
        top = _at(edges, level, cloud.rpm)
        near = np.abs(cloud.torque - top) < np.maximum(_NEAR * top, _NEAR_NOISE * cloud.noise)
        for k in range(_CELLS):
            inside = near & (cell == k)
            if inside.sum() >= _LEAST_IN_CELL:
                level[k] = float(np.median(cloud.torque[inside]))
    return level


def _stretches(trace: Trace, cloud: _Cloud, edges: FloatArray, level: FloatArray) -> list[Open]:
    top = _at(edges, level, np.nan_to_num(cloud.rpm))
    slack = np.maximum(_NEAR * top, _NEAR_NOISE * cloud.noise)
    with np.errstate(invalid="ignore"):
        near = np.isfinite(cloud.torque) & (cloud.torque > top - slack)
    found = []
    for piece in trace.pieces(near):
        if trace.time_s[piece.stop - 1] - trace.time_s[piece.start] >= min(_LEAST_STRETCH_S, 3 * trace.step_s):
            found.append(Open(trace, piece, int(trace.gear[piece.start])))
    return found
