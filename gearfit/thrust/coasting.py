"""Stretches without drive: they alone tell drag from the engine.

Only samples outside every gear count, whose engine speed stands clear of all gears or is not driven by the road: a
closed throttle in gear brakes with the engine and says nothing about drag. Who coasts brakes in the end, so a stretch
ends before it slows down faster than drag does: beyond three spreads of what is usual. Light braking looks alike, so
what is left has to keep to the same limit as a whole.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.local_lines import local_lines
from gearfit.prediction.lift import GRAVITY_MPS2
from gearfit.thrust.envelope import Open
from gearfit.thrust.resistance import Resistance
from gearfit.thrust.traces import Trace

FloatArray = NDArray[np.float64]

_SLOWEST_MPS: Final = 5.0
_LEAST_S: Final = 1.5
_TRIMMED_S: Final = 0.4
#: Half the window of the local slope that shows braking, s, and what is left out before and after it.
_HALF_S: Final = 0.5
_MARGIN_S: Final = 0.3
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
    for piece in trace.pieces(free & ~_braked(trace, free, usual)):
        time = trace.time_s[piece]
        inner = (time > time[0] + _TRIMMED_S) & (time < time[-1] - _TRIMMED_S)
        if inner.sum() < 5 or np.ptp(time[inner]) < _LEAST_S:
            continue
        place = slice(piece.start + int(inner.argmax()), piece.start + int(np.flatnonzero(inner)[-1]) + 1)
        if _plausible(trace, place, usual):
            found.append(Open(trace, place, 0))
    return found


def _braked(trace: Trace, free: NDArray[np.bool_], usual: Resistance) -> NDArray[np.bool_]:
    """Say which samples slow down faster than drag does, or lie near one that does, by the slope around each."""
    braked = np.zeros(free.size, dtype=np.bool_)
    half_s = max(_HALF_S, 2.1 * trace.step_s)
    for piece in trace.pieces(free):
        time = trace.time_s[piece]
        slowing = -local_lines(time, trace.speed_mps[piece], time, half_s)[1] - trace.hill_mps2[piece]
        expected, spread = _expected(trace, trace.speed_mps[piece] ** 2, usual)
        with np.errstate(invalid="ignore"):
            fast = time[slowing > expected + 3 * spread]
        first, last = np.searchsorted(fast, time - _MARGIN_S), np.searchsorted(fast, time + _MARGIN_S, side="right")
        braked[piece] = last > first
    return braked


def _expected(trace: Trace, squared: FloatArray, usual: Resistance) -> tuple[FloatArray, FloatArray]:
    """Usual slowing on the level at squared speeds, and what is not known of it and of the grade, m/s^2."""
    spread = np.hypot(usual.rolling_sd_mps2, usual.air_sd_per_m * squared)
    return usual.rolling_mps2 + usual.air_per_m * squared, np.hypot(spread, GRAVITY_MPS2 * trace.grade_sd)


def _plausible(trace: Trace, place: slice, usual: Resistance) -> bool:
    time, speed = trace.time_s[place], trace.speed_mps[place]
    line = np.polynomial.polynomial.polyfit(time - time[0], speed, 1)
    slowing = -line[1] - float(np.mean(trace.hill_mps2[place]))
    expected, spread = _expected(trace, np.array([np.mean(speed**2)]), usual)
    engine = trace.engine_rpm[place]
    steady = float(np.std(engine)) < 0.2 * float(np.mean(engine)) + 200
    return bool(steady and abs(slowing - expected[0]) < 3 * spread[0])
