"""Whether a run was ridden with the throttle open: its acceleration against the most that this setup ever showed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from gearfit.fitting.pairing.local_lines import local_lines
from gearfit.timed.trace import BoolArray, FloatArray, IntArray, Trace

#: Width of a bin of speed, m/s; time of the hardest riding in a bin that makes the envelope, s.
_BIN_MPS: Final = 2.5
_TOP_S: Final = 0.3
#: A run below this share of the envelope was ridden with part throttle.
LEAST_SHARE: Final = 0.8
#: ... and below this where gears are not known: the next gear may have been in.
LEAST_SHARE_NO_GEARS: Final = 0.75
#: Without gears up to three quarters of the samples may lie in a shift or near one.
_OPEN_QUANTILE: Final = 0.75
#: Half the window in which acceleration is read, s.
_HALF_S: Final = 0.4
_SLOWEST_MPS: Final = 3.0
_LEAST_PULL_MPS2: Final = 0.1


@dataclass(frozen=True, eq=False)
class Pull:
    """Acceleration of every sample of a trace, NaN where it cannot be read, with gear and bin of speed.

    It is read over `reach` samples before and behind.
    """

    acceleration_mps2: FloatArray
    key: IntArray
    interval_s: float
    in_gears: bool
    reach: int = 0


def pull_of(trace: Trace, standing: BoolArray) -> Pull:
    """Read the acceleration of a trace.

    Samples are alike in gear and speed. Without gears those of standing starts (`standing`, (n,)) are apart from the
    others: the one is ridden in low gears, the other maybe in high ones.
    """
    if trace.time_s.size < 3:
        return Pull(
            np.full(trace.time_s.size, np.nan), np.zeros(trace.time_s.size, dtype=np.int64), trace.interval_s, False
        )
    half_s = max(_HALF_S, 1.6 * trace.interval_s)
    _, rate = local_lines(trace.time_s, trace.speed_mps, trace.time_s, half_s)
    if trace.interval_s > _HALF_S:
        rate = np.gradient(trace.speed_mps, trace.time_s)
    near = trace.broken.copy()
    for shift in (1, 2):
        near[:-shift] |= trace.broken[shift:]
        near[shift:] |= trace.broken[:-shift]
    gear = trace.gear if trace.has_gears else np.where(standing, 1, 2)
    usable = (trace.speed_mps > _SLOWEST_MPS) & (gear > 0) & ~near
    if trace.has_gears:
        usable &= _settled(trace, half_s)
    key = np.where(usable, gear * 100 + (trace.speed_mps / _BIN_MPS).astype(np.int64), -1)
    reach = 1 if trace.interval_s > _HALF_S else round(half_s / trace.interval_s)
    return Pull(np.where(usable, rate, np.nan), key, trace.interval_s, trace.has_gears, reach)


def _settled(trace: Trace, half_s: float) -> BoolArray:
    """Tell which samples have a window of acceleration within one gear."""
    if trace.interval_s > _HALF_S:
        alike = np.concatenate([[False], np.diff(trace.gear) == 0, [False]])
        return np.asarray(alike[:-1] & alike[1:])
    changes = np.flatnonzero(np.diff(trace.gear))
    edges = np.concatenate([[-np.inf], trace.time_s[changes], trace.time_s[changes + 1], [np.inf]])
    edges.sort()
    place = np.searchsorted(edges, trace.time_s, side="right")
    nearest = np.minimum(trace.time_s - edges[place - 1], edges[np.minimum(place, edges.size - 1)] - trace.time_s)
    return np.asarray(nearest >= 0.6 * half_s)


def envelope(pulls: Sequence[Pull]) -> dict[int, float]:
    """Return the most acceleration in each gear and bin of speed: mean of the hardest 0.3 s."""
    parts = [(pull.key[pull.key >= 0], pull.acceleration_mps2[pull.key >= 0], pull.interval_s) for pull in pulls]
    keys = np.concatenate([part[0] for part in parts]) if parts else np.zeros(0, dtype=np.int64)
    if keys.size == 0:
        return {}
    rates = np.concatenate([part[1] for part in parts])
    top = max(1, round(_TOP_S / max(float(np.median([part[2] for part in parts])), 1e-3)))
    order = np.lexsort((-rates, keys))
    keys, rates = keys[order], rates[order]
    starts = np.flatnonzero(np.diff(keys, prepend=-1))
    stops = np.append(starts[1:], keys.size)
    return {int(keys[a]): float(np.mean(rates[a : min(a + top, b)])) for a, b in zip(starts, stops, strict=True)}


def share_of_envelope(pull: Pull, first: int, last: int, most: dict[int, float]) -> float:
    """Return the share of the envelope that samples `first` to `last` reach (1 where nothing can be compared).

    What a sample shows of the time before the run or after it, when the throttle was not open yet or not any more, is
    no part of it: those whose window lies within the run count, and all where there are none. Without gears it is the
    upper quartile over the samples: those in a shift, and those near one, must not count.
    """
    keys, rates = pull.key[first : last + 1], pull.acceleration_mps2[first : last + 1]
    good = (keys >= 0) & np.isfinite(rates)
    if not good.any():
        return 1.0
    place = np.arange(keys.size)
    inside = good & (place >= pull.reach) & (place < keys.size - pull.reach)
    good = inside if inside.any() else good
    best = np.array([most[int(key)] for key in keys[good]])
    if not pull.in_gears:
        return float(np.quantile(rates[good] / np.maximum(best, _LEAST_PULL_MPS2), _OPEN_QUANTILE))
    return float(np.sum(rates[good]) / np.sum(best)) if np.sum(best) > 0 else 1.0
