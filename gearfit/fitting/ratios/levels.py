"""The level of each gear, ln(n/v), with everything that is uncertain about it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


#: Errors of timed logs that setups share, the first columns of `Levels.shared`: what the slip of their tyre is off the
#: usual one, and what remains open of engine speeds that are wrong throughout.
SHARED: Final = ("slip", "engine speed")


def _none_shared() -> FloatArray:
    return np.empty((0, 0))


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
    shared : (G, Q) float
        What errors that other setups share do to each level, in standard deviations of each; part of `covariance`.
        Column q of two setups is the same error: first those of `SHARED`, then those of instruments that were read by
        hand. (G, 0) where not given.
    """

    gear: IntArray
    log_ratio: FloatArray
    covariance: FloatArray
    dof: float
    samples: IntArray
    passages: IntArray
    shared: FloatArray = field(default_factory=_none_shared)

    def __post_init__(self) -> None:
        if self.shared.shape[0] != self.gear.size:
            object.__setattr__(self, "shared", np.empty((self.gear.size, 0)))


def without_shared_slip(levels: Levels) -> Levels:
    """Return levels whose slip is their own, as on another tyre."""
    if not levels.shared.size:
        return levels
    shared = levels.shared.copy()
    shared[:, SHARED.index("slip")] = 0.0
    return replace(levels, shared=shared)


def read_by_hand(levels: Levels) -> Levels:
    """Return levels of a sheet, whose shared errors are those of its instruments, with the columns of logs before."""
    logs = np.zeros((levels.gear.size, len(SHARED)))
    return replace(levels, shared=np.column_stack([logs, levels.shared]))


def difference_covariance(one: Levels, other: Levels, at: IntArray, to: IntArray) -> FloatArray:
    """Covariance of differences of levels of two setups, in which what they share cancels.

    Parameters
    ----------
    one, other : Levels
        The setups.
    at, to : (K,) int
        Positions of the gears in each.
    """
    covariance: FloatArray = one.covariance[np.ix_(at, at)] + other.covariance[np.ix_(to, to)]
    common = min(one.shared.shape[1], other.shared.shape[1])
    first, second = one.shared[at, :common], other.shared[to, :common]
    return covariance - first @ second.T - second @ first.T


def merge(first: Levels, second: Levels) -> Levels:
    """Combine two independent sets of levels (a ride and a sheet), gear by gear, by inverse variance.

    The degrees of freedom are those of the parts, weighted by what each contributes to the variance
    (B. L. Welch, Biometrika 34, 28, 1947).
    """
    labels = np.union1d(first.gear, second.gear)
    information, moment = np.zeros((labels.size, labels.size)), np.zeros(labels.size)
    samples, passages = np.zeros(labels.size, dtype=np.int64), np.zeros(labels.size, dtype=np.int64)
    parts = []
    for part in (first, second):
        at = np.searchsorted(labels, part.gear)
        inverse = np.linalg.inv(part.covariance)
        information[np.ix_(at, at)] += inverse
        moment[at] += inverse @ part.log_ratio
        samples[at] += part.samples
        passages[at] += part.passages
        parts.append((part, at, inverse))
    covariance: FloatArray = np.linalg.inv(information).astype(np.float64)
    shared = np.zeros((labels.size, max(first.shared.shape[1], second.shared.shape[1])))
    shares = []
    for part, at, inverse in parts:
        gain = covariance[:, at] @ inverse
        shared[:, : part.shared.shape[1]] += gain @ part.shared
        shares.append(float(np.trace(gain @ part.covariance @ gain.T)))
    dof = sum(shares) ** 2 / sum(s**2 / part.dof for s, (part, _, _) in zip(shares, parts, strict=True))
    return Levels(labels, covariance @ moment, covariance, dof, samples, passages, shared)
