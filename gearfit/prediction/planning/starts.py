"""How many timed runs, and what they can show."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from gearfit.units import MPS_PER_KMH, MPS_PER_MPH

if TYPE_CHECKING:
    from gearfit.records.results import TimedSpan

#: Standard error of one hand-timed run, start and stop by the same person, s:
#: American Journal of Physics 87(2), 110 (2019).
HAND_TIMING_SD_S: Final = 0.10
#: Scatter of runs and time of one, before any run was timed (our assumptions, no source).
ASSUMED_RUN_RELATIVE_SD: Final = 0.03
ASSUMED_TIME_S: Final = 6.0
#: Standing starts that are tried, half of them each way; no more than a clutch and a rider bear (no source). Where even
#: the most do not show a difference as large as the gearing changes, `RUNS` are planned: they tell the scatter.
TRIED: Final = (4, 6, 8, 10)
RUNS: Final = 6
_POWER: Final = 0.8
_SPAN_MPS: Final = {"kmh": 80 * MPS_PER_KMH, "mph": 50 * MPS_PER_MPH}


@dataclass(frozen=True)
class StartPlan:
    """Timed runs from one speed to another.

    Attributes
    ----------
    from_mps, to_mps : float
        The span.
    runs : int
        In each setup, half of them each way.
    time_s, run_sd_s : float
        Expected time of one, and its scatter.
    smallest_s : float
        Smallest difference of the means that shows with a chance of 80 %.
    known_from : str
        In plain words.
    """

    from_mps: float
    to_mps: float
    runs: int
    time_s: float
    run_sd_s: float
    smallest_s: float
    known_from: str


def plan_starts(ridden: Sequence[TimedSpan], ride_name: str, unit: str, change_percent: float) -> StartPlan:
    """Plan as few runs as show a difference as large as the gearing changes.

    Span, time and scatter are those of the first ride where it has two runs or more over one span.
    """
    spans: dict[tuple[float, float], list[float]] = {}
    for run in ridden:
        spans.setdefault((round(run.from_mps, 2), round(run.to_mps, 2)), []).append(run.time_s.value)
    standing = {span: times for span, times in spans.items() if len(times) >= 2}
    if standing:
        (low, high), times = max(standing.items(), key=lambda item: (len(item[1]), -item[0][0]))
        time_s, sd_s = float(np.mean(times)), max(float(np.std(times, ddof=1)), HAND_TIMING_SD_S)
        return _plan(low, high, time_s, sd_s, change_percent, f"found in the ride {ride_name}")
    sd_s = max(ASSUMED_RUN_RELATIVE_SD * ASSUMED_TIME_S, HAND_TIMING_SD_S)
    return _plan(0.0, _SPAN_MPS[unit], ASSUMED_TIME_S, sd_s, change_percent, "assumed: no two runs were timed yet")


def _plan(
    from_mps: float, to_mps: float, time_s: float, sd_s: float, change_percent: float, known_from: str
) -> StartPlan:
    most_s = abs(change_percent) / 100 * time_s
    runs = next((n for n in TRIED if smallest_difference_s(n, sd_s) <= most_s), RUNS)
    return StartPlan(from_mps, to_mps, runs, time_s, sd_s, smallest_difference_s(runs, sd_s), known_from)


def smallest_difference_s(runs: int, run_sd_s: float) -> float:
    """Return the difference [s] that `runs` each show with a chance of 80 %: sd sqrt(2/n) (t_0.975 + t_0.8)."""
    from scipy.special import stdtrit

    dof = 2 * runs - 2
    return float(run_sd_s * math.sqrt(2 / runs) * (stdtrit(dof, 0.975) + stdtrit(dof, _POWER)))
