"""From readings of a sheet to one level a gear: random effects with the scatter between readings pooled over the gears.

Between readings a common extra variance is found by R. C. Paule and J. Mandel (Journal of Research of the NBS 87(5),
377, 1982); where there is one, Student's t has the degrees of freedom of all gears together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

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


def pool(level: FloatArray, variance: FloatArray, gear: IntArray, samples: IntArray) -> Levels:
    """Combine readings (or other passages) into levels.

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

    Returns
    -------
    Levels
        Scatter beyond the stated errors widens them; less scatter never narrows them: readings rounded alike scatter
        little and are wrong together.
    """
    labels, member = np.unique(gear, return_inverse=True)
    dof = level.size - labels.size
    between = _between_variance(level, variance, member, dof)
    weight = 1 / (variance + between)
    total = np.bincount(member, weight)
    mean = np.bincount(member, weight * level) / total
    return Levels(
        gear=labels,
        log_ratio=mean,
        covariance=np.diag(1 / total),
        dof=float(dof) if between > 0 else STATED_DOF,
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
