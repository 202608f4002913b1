"""Record of where a recording was ridden, in metres from its setup's first position; no latitude, no longitude."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

#: What was ridden at a position, as `Track.state` holds it.
LEFT_OUT: Final = 0
IN_GEAR: Final = 1
HELD: Final = 2
RUN: Final = 3


@dataclass(frozen=True, eq=False)
class Track:
    """Track of one recording.

    Attributes
    ----------
    file : str
        The recording.
    east_m, north_m : (n,) float
        From the first position of the setup, on a plane that touches the ellipsoid there.
    state : (n,) int
        `LEFT_OUT`, `IN_GEAR`, `HELD` (in gear at a steady speed) or `RUN` (a timed run).
    row : (n,) int
        Row of each position in the recording, as in `SetupResult.samples`.
    """

    file: str
    east_m: NDArray[np.float64]
    north_m: NDArray[np.float64]
    state: NDArray[np.int64]
    row: NDArray[np.int64]
