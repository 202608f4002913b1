"""Stretches without drive: they alone tell drag from the engine.

Only samples outside every gear count, whose engine speed stands clear of all gears or is not driven by the road: a
closed throttle in gear brakes with the engine and says nothing about drag. Light braking looks alike, so a stretch
counts only while it slows down no faster than three spreads of what is usual.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from gearfit.thrust.envelope import Open
from gearfit.thrust.resistance import Resistance
from gearfit.thrust.traces import Trace

_SLOWEST_MPS: Final = 5.0
_LEAST_S: Final = 2.5
_TRIMMED_S: Final = 0.4
#: Engine speed of a gear, relative, within which it may be in after all.
_CLEAR: Final = 0.15


def coasting(trace_list: list[Trace], speed_per_rpm: dict[int, float], usual: Resistance) -> list[Open]:
    """Find the stretches in neutral or with the clutch in; their gear is 0."""
    return [stretch for trace in trace_list for stretch in _in_trace(trace, speed_per_rpm, usual)]


def _in_trace(trace: Trace, speed_per_rpm: dict[int, float], usual: Resistance) -> list[Open]:
    free = (trace.gear == 0) & (trace.speed_mps > _SLOWEST_MPS) & np.isfinite(trace.engine_rpm)
    for per_rpm in speed_per_rpm.values():
        with np.errstate(divide="ignore"):
            free &= (
                np.abs(np.log(np.maximum(trace.engine_rpm, 1.0) * per_rpm / np.maximum(trace.speed_mps, 0.1))) > _CLEAR
            )
    found = []
    for piece in trace.pieces(free):
        time = trace.time_s[piece]
        inner = (time > time[0] + _TRIMMED_S) & (time < time[-1] - _TRIMMED_S)
        if inner.sum() < 5 or np.ptp(time[inner]) < _LEAST_S:
            continue
        place = slice(piece.start + int(inner.argmax()), piece.start + int(np.flatnonzero(inner)[-1]) + 1)
        if _plausible(trace, place, usual):
            found.append(Open(trace, place, 0))
    return found


def _plausible(trace: Trace, place: slice, usual: Resistance) -> bool:
    time, speed = trace.time_s[place], trace.speed_mps[place]
    line = np.polynomial.polynomial.polyfit(time - time[0], speed, 1)
    slowing = -line[1] - float(np.mean(trace.hill_mps2[place]))
    squared = float(np.mean(speed**2))
    expected = usual.rolling_mps2 + usual.air_per_m * squared
    spread = np.hypot(usual.rolling_sd_mps2, usual.air_sd_per_m * squared)
    rest = 9.81 * trace.grade_sd
    engine = trace.engine_rpm[place]
    steady = float(np.std(engine)) < 0.2 * float(np.mean(engine)) + 200
    return bool(steady and abs(slowing - expected) < 3 * np.hypot(spread, rest))
