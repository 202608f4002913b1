"""The step in which numbers were written, found without sorting them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Decimals of the finest step.
_DIGITS: Final = 6
#: Distinct values from which a common divisor of their differences is the step (by accident in 1 of 100 cases).
_DISTINCT_FOR_STEP: Final = 9
#: Whole numbers from here on are no longer exact in floating point: no step can be read off them.
_EXACT: Final = 2.0**53
#: Numbers looked at in one go: few at first, as they often tell all, then as many as the processor keeps at hand.
_FIRST, _BLOCK = 64, 8192


def written_step(values: Floats) -> float | None:
    """Smallest step in which numbers were written: greatest common divisor of their differences.

    Parameters
    ----------
    values : numpy.ndarray
        Numbers in the unit of the file, none of them NaN, in any order.

    Returns
    -------
    float or None
        The step in the unit of the file; None where there are no values. Fewer than `_DISTINCT_FOR_STEP` distinct
        values share larger divisors by accident; they give the place of the last decimal.
    """
    if not values.size:
        return None
    scale = next((10.0**digits for digits in range(_DIGITS + 1) if _are_whole(values, 10.0**digits)), None)
    if scale is None:
        return float(10.0**-_DIGITS)
    largest = max(abs(float(np.rint(end * scale))) for end in (values.min(), values.max()))
    enough = largest < _EXACT and _are_enough(values)
    return float((_divisor(values, scale) if enough else 1) / scale)


def _blocks(values: Floats) -> Iterator[Floats]:
    yield values[:_FIRST]
    for start in range(_FIRST, values.size, _BLOCK):
        yield values[start : start + _BLOCK]


def _are_whole(values: Floats, scale: float) -> bool:
    for block in _blocks(values):
        scaled = block * scale
        if not np.all(np.abs(scaled - np.rint(scaled)) < 1e-3):
            return False
    return True


def _are_enough(values: Floats) -> bool:
    seen = values[:0]
    for block in _blocks(values):
        seen = np.unique(np.concatenate((seen, block)))
        if seen.size >= _DISTINCT_FOR_STEP:
            return True
    return False


def _divisor(values: Floats, scale: float) -> int:
    """Greatest common divisor of the differences, which is that of the distances from the first number."""
    first = int(np.rint(values[0] * scale))
    divisor = 0
    for block in _blocks(values):
        apart = np.abs(np.rint(block * scale).astype(np.int64) - first)
        if divisor:
            apart %= divisor
        divisor = int(np.gcd.reduce(apart[apart > 0], initial=divisor))
        if divisor == 1:
            break
    return divisor
