"""Places of moments in a series of ascending times, as `numpy.searchsorted` gives them, found without halving.

The time from the first to the last of the series is cut into as many slots as there are times, and it is noted how many
times lie before each slot. Of any moment then only the times in its own slot are left to compare, which are one or two
where a recorder keeps its rate. That is exact: the slot never falls while the moment rises, rounded or not.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: With more times than this in one slot (long pauses), halving is as fast.
_MOST_IN_A_SLOT: Final = 5


class Places:
    """Where moments lie in a series.

    Parameters
    ----------
    time_s : (m,) float
        Ascending, finite.
    """

    def __init__(self, time_s: FloatArray) -> None:
        self._time_s = np.append(time_s, np.inf)
        span_s = float(time_s[-1] - time_s[0]) if time_s.size else 0.0
        self._slots_per_s = time_s.size / span_s if span_s > 0 else 0.0
        inside = np.bincount(self._slot(time_s))
        self._before_slot = np.cumsum(inside) - inside
        self._most = int(inside.max(initial=0))

    def before(self, at_s: FloatArray) -> IntArray:
        """Count the times of the series before each moment: (n,) to (n,)."""
        return self._count(at_s, np.less, "left")

    def until(self, at_s: FloatArray) -> IntArray:
        """Count the times before each moment or at it: (n,) to (n,)."""
        return self._count(at_s, np.less_equal, "right")

    def _count(
        self, at_s: FloatArray, passed: Callable[..., NDArray[np.bool_]], side: Literal["left", "right"]
    ) -> IntArray:
        if not 0 < self._most <= _MOST_IN_A_SLOT:
            return np.searchsorted(self._time_s[:-1], at_s, side)
        place = self._before_slot.take(self._slot(at_s), mode="clip")
        for _ in range(self._most):
            place += passed(self._time_s.take(place), at_s)
        return place

    def _slot(self, at_s: FloatArray) -> IntArray:
        slot = at_s - self._time_s[0]
        slot *= self._slots_per_s
        number: IntArray = slot.astype(np.int64)
        return number
