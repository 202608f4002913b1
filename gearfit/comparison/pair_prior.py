"""How likely each two tooth pairs, before and after, are ahead of any measurement.

Front and rear sprocket are judged apart. A stated count is right in 95 of 100 cases; else it is off by some teeth, the
fewer the likelier. Where both setups state the same count it is mostly one sprocket, so that one error is in both.
Where the other setup states none, it has any, the nearer the likelier, in teeth and in gearing. The figures are ours.

Whoever fits a sprocket may have miscounted it, which is what a ride is to find out. So there is a second belief, in
which what is stated of the other setup is as likely wrong as right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.machine.bike import FinalDrive

FloatArray = NDArray[np.float64]

#: Share of stated counts that are wrong, and of those of the other setup for whoever does not believe them.
_WRONG: Final = 0.05
_DOUBTED: Final = 0.5
#: Each further tooth of error, or of change, is less likely by this factor.
_FRONT_FACTOR: Final = 0.5
_REAR_FACTOR: Final = 0.7
#: Share of equal counts that belong to one sprocket which stayed on the machine.
_ONE_SPROCKET: Final = 0.9
#: Weight of changing both sprockets against one, where the other setup states none.
_BOTH_FACTOR: Final = 0.2
#: ... and how far a gearing is changed, ln: hardly ever by a third.
_CHANGE_SD: Final = 0.15


@dataclass(frozen=True, eq=False)
class Pairs:
    """Every combination of a pair before and a pair after, with its weight.

    Attributes
    ----------
    teeth : (P, 2) int
        Front and rear of each pair looked at.
    weight : (P, P) float
        Probability beforehand, pair before along the first axis; sums to 1.
    """

    teeth: NDArray[np.int64]
    weight: FloatArray


def prior(
    fronts: Sequence[int], rears: Sequence[int], reference: FinalDrive, other: FinalDrive, *, doubted: bool = False
) -> Pairs:
    """Weigh all pairs of these sprockets; `reference` states both counts, `other` may state none, one or both.

    `doubted` takes what `other` states for as likely wrong as right.
    """
    front, rear = np.array(fronts), np.array(rears)
    by_front = _two(front, reference.front or 0, other.front, _FRONT_FACTOR, doubted=doubted)
    by_rear = _two(rear, reference.rear or 0, other.rear, _REAR_FACTOR, doubted=doubted)
    weight = np.einsum("ab,cd->acbd", by_front, by_rear)
    size = front.size * rear.size
    teeth = np.column_stack([np.repeat(front, rear.size), np.tile(rear, front.size)])
    weight = weight.reshape(size, size)
    if other.front is None or other.rear is None:
        weight = weight * _of_change(teeth)
    return Pairs(teeth, weight / weight.sum())


def _of_change(teeth: NDArray[np.int64]) -> FloatArray:
    """Weigh what a workshop changes: one sprocket sooner than both, and a gearing by little sooner than by much."""
    both = np.all(teeth[:, None, :] != teeth[None, :, :], axis=2)
    reduction = np.log(teeth[:, 1] / teeth[:, 0])
    moved = np.exp(-0.5 * ((reduction[:, None] - reduction[None, :]) / _CHANGE_SD) ** 2)
    weighed: FloatArray = np.where(both, _BOTH_FACTOR, 1.0) * moved
    return weighed


def _two(teeth: NDArray[np.int64], before: int, after: int | None, factor: float, *, doubted: bool) -> FloatArray:
    """Weigh one sprocket before (rows) and after (columns)."""
    first = _stated(teeth, before, factor, _WRONG)
    if after is None:
        near: FloatArray = factor ** np.abs(teeth[:, None] - teeth[None, :]).astype(np.float64)
        weighed: FloatArray = first[:, None] * near / near.sum(axis=1, keepdims=True)
        return weighed
    apart = np.outer(first, _stated(teeth, after, factor, _DOUBTED if doubted else _WRONG))
    one = 1 - _DOUBTED if doubted else _ONE_SPROCKET
    return apart if before != after else one * np.diag(first) + (1 - one) * apart


def _stated(teeth: NDArray[np.int64], stated: int, factor: float, share_wrong: float) -> FloatArray:
    off = np.abs(teeth - stated).astype(np.float64)
    wrong: FloatArray = np.where(off > 0, factor**off, 0.0)
    return np.where(off > 0, share_wrong * wrong / wrong.sum(), 1 - share_wrong)
