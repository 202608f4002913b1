"""The mean course of several runs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from gearfit.records.results import MeanCourse, TimedSpan

_STEP_S: Final = 0.05


def mean_course(runs: Sequence[TimedSpan]) -> MeanCourse | None:
    """Average the speeds of runs at the same time from their start; None where none was found in a ride."""
    traces = [run.trace for run in runs if run.trace is not None and run.trace.time_s.size > 1]
    if not traces:
        return None
    first_s, last_s = max(t.time_s[0] for t in traces), min(t.time_s[-1] for t in traces)
    time_s = np.arange(np.ceil(first_s / _STEP_S), np.floor(last_s / _STEP_S) + 1) * _STEP_S
    speeds = np.array([np.interp(time_s, t.time_s, t.speed_mps) for t in traces])
    mean = speeds.mean(axis=0)
    scatter = speeds.std(axis=0, ddof=1) if len(traces) > 1 else np.zeros_like(mean)
    return MeanCourse(time_s, mean, np.maximum(mean - scatter, 0.0), mean + scatter)
