"""Where an instrument stops: a needle that rests at its lowest mark, a display that goes no higher.

At its stop an instrument shows one value over a range of true speeds. Pairs there say nothing of the line, and pairs
near there would bend it; they are left out by their true speed, never by what was shown, which would bend it as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import UndecidableError
from gearfit.speedometer.pairs import FloatArray, Pairs
from gearfit.speedometer.start import robust_start

#: At least so many pairs at the stop, and off the line of the others by so many steps at the median.
_FEWEST, _STEPS_OFF = 3, 2.0
#: Least distance from the line at which a stop is seen, m/s.
_LEAST_OFF_MPS: Final = 0.6


@dataclass(frozen=True, eq=False)
class CutOff:
    """Indications at which the instrument stops (None: not seen), and the pairs away from there ((n,) bool)."""

    floor_mps: float | None
    ceiling_mps: float | None
    clear: NDArray[np.bool_]


def find_cut_offs(pairs: Pairs) -> CutOff:
    """Find the stops of an instrument."""
    x, y = pairs.true_mps, pairs.shown_mps
    step = float(np.max(pairs.step_mps, initial=0.0))
    near = max(step / 2, 0.05)
    low, high = float(y.min()), float(y.max())
    middle = (y > low + near) & (y < high - near)
    nothing = CutOff(None, None, np.ones(y.size, dtype=bool))
    if middle.sum() < _FEWEST:
        return nothing
    try:
        offset, gain = robust_start(x[middle], y[middle])
    except UndecidableError:
        return nothing
    line = offset + gain * x
    off = max(_STEPS_OFF * step, _LEAST_OFF_MPS)
    margin = max(2 * step, _LEAST_OFF_MPS)
    floor, ceiling, clear = None, None, np.ones(y.size, dtype=bool)
    if _stops(low - line[y <= low + near], off):
        floor, clear = low, clear & (line > low + margin)
    if _stops(line[y >= high - near] - high, off):
        ceiling, clear = high, clear & (line < high - margin)
    return CutOff(floor, ceiling, clear)


def _stops(beyond_mps: FloatArray, off_mps: float) -> bool:
    return beyond_mps.size >= _FEWEST and bool(np.median(beyond_mps) > off_mps)
