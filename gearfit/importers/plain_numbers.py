"""Columns of plain numbers, the fast way."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def plain_numbers(texts: list[str]) -> NDArray[np.float64] | None:
    """Read texts of which each is a number with a decimal point; None where one is anything else.

    `float` also takes digits of other scripts and underscores between digits, which no log means as numbers.
    """
    joined = "".join(texts)
    if not joined.isascii() or "_" in joined:
        return None
    try:
        return np.fromiter(map(float, texts), np.float64, len(texts))
    except ValueError:
        return None
