"""Which of the steps found in the samples were really ridden."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.gear_path import most_likely_path, passages
from gearfit.fitting.observed import Observed

FloatArray = NDArray[np.float64]

#: A step found in the samples is a gear if engaged this often, or for this long, s.
_LEAST_ENGAGED: Final = 2
_LONG_S: Final = 10.0


def ridden(observed: Sequence[Observed], sd: Sequence[FloatArray], centres: FloatArray) -> FloatArray:
    """Keep the steps that were engaged at least twice, or for long: a slow clutch can draw one step that is no gear."""
    while True:
        engaged, seconds = np.zeros(centres.size), np.zeros(centres.size)
        for o, s in zip(observed, sd, strict=True):
            path = most_likely_path(o.time_s, o.log_ratio, s, centres)
            number = passages(o.time_s, path)
            inside = number >= 0
            _, first = np.unique(number[inside], return_index=True)
            engaged += np.bincount(path[inside][first], minlength=centres.size)
            seconds += np.bincount(path[inside], o.seconds[inside], minlength=centres.size)
        kept = (engaged >= _LEAST_ENGAGED) | (seconds >= _LONG_S)
        if kept.all() or not kept.any():
            return centres
        centres = centres[kept]
