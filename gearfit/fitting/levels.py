"""From passages to one level a gear: random effects with the scatter between passages pooled over the gears.

A passage (one engagement of one gear, or one row of a sheet) is one measurement: within it the errors of receiver
and needle hang together. Between passages a common extra variance is found by R. C. Paule and J. Mandel (Journal of
Research of the NBS 87(5), 377, 1982); the interval scales with the scatter found and uses Student's t (J. Hartung and
G. Knapp, Statistics in Medicine 20, 3875, 2001), here with the degrees of freedom of all gears together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: With fewer degrees of freedom than this the scatter found may only widen the stated errors, not narrow them.
_DOF_TO_NARROW: Final = 10
#: Degrees of freedom credited to errors that were stated and not found from scatter.
STATED_DOF: Final = 60.0


@dataclass(frozen=True, eq=False)
class Levels:
    """ln(n/v) of each gear.

    Attributes
    ----------
    gear : (G,) int
        Labels, ascending.
    log_ratio : (G,) float
        Level of each gear.
    covariance : (G, G) float
        Of the levels, common errors (lag) included.
    dof : float
        Degrees of freedom behind the covariance.
    samples, passages : (G,) int
        What each level was made of.
    """

    gear: IntArray
    log_ratio: FloatArray
    covariance: FloatArray
    dof: float
    samples: IntArray
    passages: IntArray


def pool(
    level: FloatArray, variance: FloatArray, gear: IntArray, samples: IntArray, *, may_narrow: bool = True
) -> Levels:
    """Combine passages into levels.

    Parameters
    ----------
    level : (P,) float
        ln(n/v) of each passage.
    variance : (P,) float
        Its own error variance.
    gear : (P,) int
        Gear of each passage.
    samples : (P,) int
        Samples in each passage.
    may_narrow : bool
        Whether a scatter smaller than the stated errors makes the intervals narrower. Not where these come from
        rounding: readings rounded alike scatter little and are wrong together.
    """
    labels, member = np.unique(gear, return_inverse=True)
    dof = level.size - labels.size
    between = _between_variance(level, variance, member, dof)
    weight = 1 / (variance + between)
    total = np.bincount(member, weight)
    mean = np.bincount(member, weight * level) / total
    scale = float(np.sum(weight * (level - mean[member]) ** 2)) / dof if dof else 1.0
    if dof < _DOF_TO_NARROW or not may_narrow:
        scale = max(1.0, scale)
    return Levels(
        gear=labels,
        log_ratio=mean,
        covariance=np.diag(scale / total),
        dof=float(dof) if dof and (scale > 1 or between > 0 or (may_narrow and dof >= _DOF_TO_NARROW)) else STATED_DOF,
        samples=np.bincount(member, samples).astype(np.int64),
        passages=np.bincount(member),
    )


def _between_variance(level: FloatArray, variance: FloatArray, member: IntArray, dof: int) -> float:
    """Paule and Mandel's variance between passages, 0 where the stated errors explain the scatter."""
    if dof == 0:
        return 0.0

    def excess(between: float) -> float:
        weight = 1 / (variance + between)
        mean = np.bincount(member, weight * level) / np.bincount(member, weight)
        return float(np.sum(weight * (level - mean[member]) ** 2)) - dof

    if excess(0.0) <= 0:
        return 0.0
    low, high = 0.0, float(np.var(level - (np.bincount(member, level) / np.bincount(member))[member])) * 10 + 1e-12
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if excess(middle) > 0 else (low, middle)
    return (low + high) / 2


def merge(first: Levels, second: Levels) -> Levels:
    """Combine two independent sets of levels (a ride and a sheet), gear by gear, by inverse variance."""
    labels = np.union1d(first.gear, second.gear)
    information, moment = np.zeros((labels.size, labels.size)), np.zeros(labels.size)
    samples, passages = np.zeros(labels.size, dtype=np.int64), np.zeros(labels.size, dtype=np.int64)
    for part in (first, second):
        at = np.searchsorted(labels, part.gear)
        inverse = np.linalg.inv(part.covariance)
        information[np.ix_(at, at)] += inverse
        moment[at] += inverse @ part.log_ratio
        samples[at] += part.samples
        passages[at] += part.passages
    covariance: FloatArray = np.linalg.inv(information).astype(np.float64)
    return Levels(labels, covariance @ moment, covariance, min(first.dof, second.dof), samples, passages)
