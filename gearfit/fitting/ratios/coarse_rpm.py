"""Which samples tell a level where engine speeds are written in coarse steps.

An engine speed that is held stays within one step for seconds: its samples share one error of up to half a step, and so
do all the times that the same speed is held again. Where the written value changes, the engine speed is at the edge
between two steps, and the samples to both sides of that tell it. So samples near a change count each by itself, all
others of one gear and one written value count as a single one.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.stream import Stream

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: Steps of engine speed from this one up, rev/min, are coarse: finer ones hide in the noise of speeds and engine.
SHARED_STEP_RPM: Final = 100.0
#: A sample is near a change of the written value up to this far from it, s, and up to this many intervals.
_NEAR_S: Final = 0.25
_NEAR_INTERVALS: Final = 1.01


def telling(stream: Stream, at_s: FloatArray, gear: IntArray) -> BoolArray:
    """Mark the samples that count by themselves, and one of those of each gear and written value that do not.

    Parameters
    ----------
    stream : Stream
        With the engine speeds as written.
    at_s : (n,) float
        Moments of the samples on the clock of the engine speeds, s.
    gear : (n,) int
        Gear of each.
    """
    if stream.rpm_step_rpm < SHARED_STEP_RPM or stream.rpm_time_s.size < 2:
        return np.ones(at_s.size, dtype=bool)
    time_s, rpm = stream.rpm_time_s, stream.engine_rpm
    changed = np.flatnonzero(np.diff(rpm))
    changes_s = np.concatenate([[-np.inf], (time_s[changed] + time_s[changed + 1]) / 2, [np.inf]])
    after = np.searchsorted(changes_s[1:-1], at_s) + 1
    far_s = np.minimum(at_s - changes_s[after - 1], changes_s[after] - at_s)
    near = far_s <= max(_NEAR_S, _NEAR_INTERVALS * stream.rpm_interval_s)
    value = rpm[np.clip(np.searchsorted(time_s, at_s), 0, rpm.size - 1)]
    held = np.flatnonzero(~near)
    order = held[np.argsort(-far_s[held], kind="stable")]
    _, first = np.unique(np.column_stack([gear[order], value[order]]), axis=0, return_index=True)
    near[order[first]] = True
    return np.asarray(near)
