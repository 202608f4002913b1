"""Which points each picture tells values of."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from gearfit.report import hover_gears, hover_runs, hover_samples
from gearfit.report.told import Told
from gearfit.results import Analysis

#: Name of a picture -> the points that it tells of.
POINTS: Final[dict[str, Callable[[Analysis], list[Told]]]] = {
    "change-per-gear": hover_gears.changes,
    "speed-against-rpm": hover_samples.samples,
    "ratio-histogram": hover_samples.heaps,
    "ratios-against-nominal": hover_gears.deviations,
    "timed-runs": hover_runs.timed,
    "runs-laid-over": hover_runs.laid_over,
    "thrust-per-gear": hover_runs.thrust,
    "speed-course": hover_runs.courses,
    "speedometer-error": hover_samples.speedometer,
    "engine-sound": hover_samples.sound,
    "circumference-history": hover_gears.circumferences,
    "track-picture": hover_samples.tracks,
}


def points(name: str, analysis: Analysis) -> list[Told]:
    """Return the points that a picture tells of, placed as it draws them for this analysis."""
    return POINTS[name](analysis)
