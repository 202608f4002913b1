"""Steps that a short ride shows once each: stretches in which the ratio stays put while the speed changes.

The ride hardly shows the lag then, which moves each step by some per cent: the usual one is believed, and its error.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.observed import Observed, observe
from gearfit.fitting.pairing.stream import Stream

FloatArray = NDArray[np.float64]

#: Lags tried, s (ours).
_LAGS_S: Final = np.arange(-0.1, 0.51, 0.1)
#: Samples are averaged over this time, s (ours).
_MEAN_S: Final = 0.2
#: A run lasts this long, s: longer than a shift; the ratio stays within this, ln; the speed changes by this, ln (ours,
#: tried).
_LEAST_S: Final = 0.7
_PUT: Final = 0.012
_CHANGE: Final = 0.02
#: ... or, held this long, s, not at all (ours, tried).
_HELD_S: Final = 1.1
#: Runs nearer than the first are of one step; neighbours in a gearbox stand no farther apart than the second, ln ratio
#: (ours: a factor of two).
_SAME: Final = 0.05
_FARTHEST: Final = 0.75
#: Usual lead of an engine-speed channel over a receiver's speed, and what it is believed to, s (our assumption).
_USUAL_LAG_S: Final = 0.15
LAG_SD_S: Final = 0.15
#: With fewer steps nothing is said.
_LEAST_STEPS: Final = 2


def steps_seen(streams: Sequence[Stream]) -> tuple[FloatArray, float]:
    """Find the steps, and the lag at which most time lies in them.

    Parameters
    ----------
    streams : sequence of Stream
        At least one.

    Returns
    -------
    (G,) float, float
        ln(n/v), descending, none where fewer than two are seen; s.
    """
    best_s, best, best_lag_s = -np.inf, np.empty(0), 0.0
    for lag_s in _LAGS_S:
        runs = [run for stream in streams for run in _runs(observe(stream, float(lag_s), 0.0))]
        score = sum(run[1] for run in runs) - 0.5 * ((lag_s - _USUAL_LAG_S) / LAG_SD_S) ** 2
        if score > best_s:
            best_s, best, best_lag_s = score, _merged([run[0] for run in runs]), float(lag_s)
    return (best, best_lag_s) if best.size >= _LEAST_STEPS else (np.empty(0), 0.0)


def _runs(o: Observed) -> list[tuple[float, float]]:
    """Level and length, s, of each run."""
    if o.time_s.size == 0:
        return []
    cell = np.floor((o.time_s - o.time_s[0]) / _MEAN_S).astype(np.int64)
    place, member = np.unique(cell, return_inverse=True)
    count = np.bincount(member)
    ratio, log_v = (np.bincount(member, values) / count for values in (o.log_ratio, np.log(o.speed_mps)))
    found, first = [], 0
    for k in range(1, place.size + 1):
        inside = k < place.size and place[k] - place[k - 1] <= 2 and abs(ratio[k] - np.mean(ratio[first:k])) < _PUT
        if inside:
            continue
        length_s = float(place[k - 1] - place[first] + 1) * _MEAN_S
        if length_s >= _HELD_S or (length_s >= _LEAST_S and np.ptp(log_v[first:k]) > _CHANGE):
            found.append((float(np.median(ratio[first:k])), length_s))
        first = k
    return found


def _merged(levels: Sequence[float]) -> FloatArray:
    """Join like levels; leave out what stands too far from the others to be of one gearbox."""
    ordered = np.sort(np.array(levels))[::-1]
    groups = np.split(ordered, np.flatnonzero(-np.diff(ordered) > _SAME) + 1)
    steps = np.array([float(np.median(group)) for group in groups if group.size])
    far = np.flatnonzero(-np.diff(steps) > _FARTHEST)
    return steps[: far[0] + 1] if far.size else steps
