"""A smooth curve over engine speed: cubic B-splines on even knots, constant beyond the ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class RpmCurve:
    """Cubic B-splines over an engine speed range.

    Attributes
    ----------
    low_rpm, high_rpm : float
        Ends of what was seen; the curve goes on with its end value.
    pieces : int
        Cells between knots.
    """

    low_rpm: float
    high_rpm: float
    pieces: int

    @property
    def size(self) -> int:
        """Number of coefficients."""
        return self.pieces + 3

    def basis(self, engine_rpm: FloatArray) -> FloatArray:
        """Values of the basis, shape (m, size); rows sum to 1."""
        held = np.clip(engine_rpm, self.low_rpm, self.high_rpm)
        place = (held - self.low_rpm) / (self.high_rpm - self.low_rpm) * self.pieces
        cell = np.clip(place.astype(np.int64), 0, self.pieces - 1)
        u = place - cell
        parts = ((1 - u) ** 3, 3 * u**3 - 6 * u**2 + 4, -3 * u**3 + 3 * u**2 + 3 * u + 1, u**3)
        found = np.zeros((held.size, self.size))
        row = np.arange(held.size)
        for k, part in enumerate(parts):
            found[row, cell + k] = part / 6
        return found

    def roughness(self) -> FloatArray:
        """Second differences of the coefficients, shape (size - 2, size)."""
        return np.diff(np.eye(self.size), n=2, axis=0)
