"""The most likely course of the engine speed through the contrasts, by dynamic programming."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.importers.sound.contrast import HOP_S, Contrast
from gearfit.importers.sound.orders import Floats

#: Spacing of the engine speeds tried, relative.
STEP: Final = 0.005
#: Fastest change of engine speed: share of it in a second (at 5000 rev/min, 20,000 rev/min in a second).
FASTEST_PER_S: Final = 4.0
#: What a change at that rate costs in contrast; slower ones cost in proportion.
_COST: Final = 2.0
#: A course is another one where its speed differs by more than this share.
ELSEWHERE: Final = 0.05


def speeds_tried(lowest_rpm: float, highest_rpm: float) -> Floats:
    """Return the engine speeds tried, evenly spaced in their logarithm."""
    count = int(np.ceil(np.log(highest_rpm / lowest_rpm) / STEP)) + 1
    return np.geomspace(lowest_rpm, highest_rpm, count)


@dataclass(frozen=True, eq=False)
class Ridge:
    """The best course: engine speed, contrast along it, and by how much any course elsewhere is worse; (n,) each."""

    rpm: Floats
    contrast: Floats
    margin: Floats


def ridge(contrast: Contrast) -> Ridge:
    """Find the course with the highest sum of contrasts less the cost of its changes.

    The margin of a moment is the sum of the best course less that of the best course which at that moment is more than
    `ELSEWHERE` away: where it is small, two courses explain the sound alike.
    """
    value = contrast.value
    n, m = value.shape
    sums, came_from = _forward(value)
    path = np.zeros(n, dtype=np.int64)
    path[-1] = int(sums[-1].argmax())
    for k in range(n - 1, 0, -1):
        path[k - 1] = path[k] + came_from[k, path[k]]
    margin = np.zeros(n)
    speeds = np.arange(m)
    step = _Step(m)
    onward = np.zeros(m, dtype=np.float32)
    for k in range(n - 1, -1, -1):
        through = sums[k] + onward
        far = np.abs(speeds - path[k]) * STEP > ELSEWHERE
        margin[k] = through[path[k]] - through[far].max(initial=-np.inf)
        onward, _ = step.best(onward + value[k])
    along = value[np.arange(n), path]
    return Ridge(contrast.rpm[path], along.astype(np.float64), margin)


class _Step:
    """One step of time: the best way to reach each speed, with what changes of speed cost."""

    def __init__(self, m: int) -> None:
        reach = round(FASTEST_PER_S * HOP_S / STEP)
        self.steps = np.arange(-reach, reach + 1)
        self.cost = (_COST * np.abs(self.steps) / reach).astype(np.float32)
        self.padded = np.full(m + 2 * reach, -np.inf, dtype=np.float32)
        self.inside = slice(reach, reach + m)
        self.views = np.lib.stride_tricks.sliding_window_view(self.padded, 2 * reach + 1)
        self.rows = np.arange(m)

    def best(self, sums: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
        """Return the best sum at each speed less the best of all, and the step that leads there."""
        self.padded[self.inside] = sums - sums.max()
        reached = self.views - self.cost
        chosen = reached.argmax(axis=1)
        return reached[self.rows, chosen], self.steps[chosen]


def _forward(value: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.int16]]:
    """Best sum of a course that ends at each moment and speed, and the step that it came by."""
    sums = np.empty_like(value)
    came_from = np.zeros(value.shape, dtype=np.int16)
    sums[0] = value[0]
    step = _Step(value.shape[1])
    for k in range(1, len(value)):
        best, came_from[k] = step.best(sums[k - 1])
        sums[k] = best + value[k]
    return sums, came_from
