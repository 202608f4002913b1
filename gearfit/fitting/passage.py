"""One level, ln(n/v), for each passage: a line through the origin with errors in both variables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.observed import Observed
from gearfit.fitting.york import ratio_fit

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Time left off at both ends of a passage while the clutch settles, s, and the share that must remain.
_SETTLE_S: Final = 0.25
_LEAST_LEFT: Final = 0.5
#: Samples farther than this many standard errors from their gear's centre are not used for its level.
_WILD_SD: Final = 4.0
#: Time over which receiver errors hang together, s (1-3 s are usual; the scatter between passages does the rest).
_CORRELATED_S: Final = 1.5


@dataclass(frozen=True, eq=False)
class Passages:
    """Passages of one or more streams; arrays of one length (P,).

    `rate` is the mean rate of change of ln v, 1/s, and `inverse_speed` the mean of 1/v, s/m: how strongly a common
    error of lag or speed offset moves each level.
    """

    gear: IntArray
    level: FloatArray
    variance: FloatArray
    samples: IntArray
    rate: FloatArray
    inverse_speed: FloatArray


def settled(time_s: FloatArray, number: IntArray) -> NDArray[np.bool_]:
    """Mark the samples of each passage that lie away from its ends (all of them in short passages)."""
    inside = number >= 0
    if not inside.any():
        return inside
    first, last = np.full(number.max() + 1, np.inf), np.full(number.max() + 1, -np.inf)
    np.minimum.at(first, number[inside], time_s[inside])
    np.maximum.at(last, number[inside], time_s[inside])
    at = np.clip(number, 0, None)
    away = inside & (time_s >= first[at] + _SETTLE_S) & (time_s <= last[at] - _SETTLE_S)
    kept = np.bincount(number[away], minlength=first.size)
    enough = kept >= np.maximum(2, _LEAST_LEFT * np.bincount(number[inside], minlength=first.size))
    return np.where(enough[at], away, inside)


def fit_passages(o: Observed, path: IntArray, number: IntArray, centres: FloatArray, sd: FloatArray) -> Passages:
    """Fit each passage of one stream.

    Parameters
    ----------
    path, number : (n,) int
        Gear position and passage number of each sample, -1 for none.
    centres : (G,) float
        Current ln(n/v) of the gears.
    sd : (n,) float
        Standard error of each sample's ln ratio.
    """
    residual = o.log_ratio - np.where(path >= 0, centres[np.clip(path, 0, None)], np.nan)
    use = settled(o.time_s, number) & (np.abs(residual) < _WILD_SD * sd)
    order = np.flatnonzero(use)
    if order.size == 0:
        return Passages(*(np.empty(0, dtype=t) for t in (np.int64, float, float, np.int64, float, float)))
    cuts = np.flatnonzero(np.diff(number[order])) + 1
    total = np.bincount(number[number >= 0])
    rows = [_one(o, part, sd, int(path[part[0]]), int(total[number[part[0]]])) for part in np.split(order, cuts)]
    gear, level, variance, samples, rate, inverse = (np.array(column) for column in zip(*rows, strict=True))
    return Passages(gear, level, variance, samples, rate, inverse)


def _one(
    o: Observed, part: IntArray, sd: FloatArray, gear: int, samples: int
) -> tuple[int, float, float, int, float, float]:
    inflate = sd[part] / o.log_ratio_sd[part]
    slope, _ = ratio_fit(
        o.speed_mps[part], o.engine_rpm[part], o.speed_sd_mps[part] * inflate, o.rpm_sd_rpm[part] * inflate
    )
    weight = 1 / sd[part] ** 2
    length_s = float(o.time_s[part[-1]] - o.time_s[part[0]])
    independent = np.clip(1 + length_s / (2 * _CORRELATED_S), 1, part.size)
    rate = o.rpm_rate[part]
    known = np.isfinite(rate)
    return (
        gear,
        float(np.log(slope)),
        float(1 / np.mean(weight) / independent),
        samples,
        float(np.average(rate[known], weights=weight[known])) if known.any() else 0.0,
        float(np.average(1 / o.speed_mps[part], weights=weight)),
    )
