"""Permutation test of a difference of means: a check of Welch's interval that assumes no distribution."""

from __future__ import annotations

from itertools import combinations
from math import comb
from typing import Final

import numpy as np
from numpy.typing import NDArray

#: More ways to deal the runs out than this are not counted (8 and 8 runs: 12,870).
_MOST_WAYS: Final = 20_000
#: Differences this close are one, s.
_TIE_S: Final = 1e-9


def permutation_p(before: NDArray[np.float64], after: NDArray[np.float64]) -> float | None:
    """Share of all ways to deal the times out to the two setups whose means differ at least as much as found.

    Two-sided and exact; with three runs each it cannot be below 2 / 20. None where there are too many ways.
    """
    n = before.size
    if comb(n + after.size, n) > _MOST_WAYS:
        return None
    every = np.concatenate([before, after])
    dealt = np.array(list(combinations(range(every.size), n)))
    first = every[dealt].sum(axis=1)
    gaps = np.abs((every.sum() - first) / after.size - first / n)
    return float(np.mean(gaps >= abs(float(np.mean(after) - np.mean(before))) - _TIE_S))
