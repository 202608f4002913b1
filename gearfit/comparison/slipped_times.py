"""Stopwatch times that cannot be right beside the others: 65 for 6.5 s, minutes for seconds.

No sprocket changes a time by a factor of two and a half, nor does any rider: such a time was misread or miswritten. It
is excluded and named; where only two times disagree so, nobody can tell which is wrong, and neither counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from gearfit.records.results import LeftOutRun, SetupResult, TimedSpan
from gearfit.timed.asked import Span, each_once

#: Times over one span that differ by more than this factor were not both read right (ours: a swap changes the gearing
#: by a third at most).
_FACTOR: Final = 2.5
#: A time with its decimal point moved is the one that was meant when it lies this near to the others, as a factor.
_NEAR: Final = 1.4


def without_slips(results: Sequence[SetupResult]) -> list[SetupResult]:
    """Exclude the stopwatch times that cannot be right beside those over the same span in all setups.

    Parameters
    ----------
    results : sequence of SetupResult
        All setups of a machine.

    Returns
    -------
    list of SetupResult
        The same, such runs moved from `timed_spans` to `left_out_runs`.
    """
    by_hand = [run for result in results for run in result.timed_spans if run.kind == "stopwatch"]
    slips: dict[int, str] = {}
    for span in each_once(Span(run.from_mps, run.to_mps) for run in by_hand):
        slips |= _slips([run for run in by_hand if Span(run.from_mps, run.to_mps).same_as(span)])
    return [_without(result, slips) for result in results] if slips else list(results)


def _slips(runs: Sequence[TimedSpan]) -> dict[int, str]:
    """Give the reason for each run, by its identity, that is none."""
    time_s = np.array([run.time_s.value for run in runs])
    usual_s = float(np.median(time_s))
    if len(runs) == 2 and time_s.max() > _FACTOR * time_s.min():
        why = f"{time_s.min():g} and {time_s.max():g} s cannot both be right: one was misread or miswritten"
        return {id(run): why for run in runs}
    off = np.maximum(time_s / usual_s, usual_s / time_s) > _FACTOR
    return {id(run): _why(run.time_s.value, usual_s) for run, wrong in zip(runs, off, strict=True) if wrong}


def _why(time_s: float, usual_s: float) -> str:
    meant = [m for m in (time_s / 10, time_s * 10, time_s * 60) if 1 / _NEAR < m / usual_s < _NEAR]
    asked = f" ({meant[0]:g} s?)" if meant else ""
    return f"{time_s:g} s cannot be right beside the other times, {usual_s:.3g} s or so{asked}"


def _without(result: SetupResult, slips: dict[int, str]) -> SetupResult:
    excluded = tuple(
        LeftOutRun(run.source, run.from_mps, run.to_mps, None, run.time_s.value, slips[id(run)])
        for run in result.timed_spans
        if id(run) in slips
    )
    kept = tuple(run for run in result.timed_spans if id(run) not in slips)
    return replace(result, timed_spans=kept, left_out_runs=(*result.left_out_runs, *excluded))
