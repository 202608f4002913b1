"""Finds the runs of a setup, times them, and says of each that does not count why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from gearfit.fitting.setup_fit import SetupFit
from gearfit.machine.bike import Conditions
from gearfit.records.recording import RideSetup
from gearfit.records.results import How, LeftOutRun, TimedSpan
from gearfit.timed.air import corrected
from gearfit.timed.asked import USUAL_SPANS, Span
from gearfit.timed.candidates import Candidate, at_rest, find_candidates
from gearfit.timed.engine import EngineSpeeds
from gearfit.timed.gears import engagements, shifts_in
from gearfit.timed.noise import SpeedNoise, with_roughness
from gearfit.timed.seen import Recorded, seen_in
from gearfit.timed.slope import grade_percent, heading_deg, rise_sd_m, too_steep
from gearfit.timed.start import with_launch_roughness
from gearfit.timed.throttle import LEAST_SHARE, LEAST_SHARE_NO_GEARS, Pull, envelope, pull_of, share_of_envelope
from gearfit.timed.timing import around, course, start_samples, time_run
from gearfit.timed.trace import BoolArray, Trace

#: What takes longer than this many times the quickest over the same span is ordinary riding and is not listed.
_ORDINARY: Final = 2.5
#: A run whose standard error is a larger share of its time cannot be used.
_COARSEST: Final = 0.15
#: Runs of two recorders that begin within this are one, s.
_SAME_RUN_S: Final = 2.0


@dataclass(frozen=True)
class FoundRuns:
    """Runs that count, and runs that do not, in order of time."""

    timed: tuple[TimedSpan, ...]
    left_out: tuple[LeftOutRun, ...]


@dataclass(frozen=True, eq=False)
class _Material:
    """One trace with what its candidates are judged by."""

    trace: Trace
    noise: SpeedNoise
    engine: EngineSpeeds | None
    recorded: Recorded
    rest: BoolArray
    pull: Pull
    rise_sd_m: float
    candidates: tuple[Candidate, ...]


def find_runs(ride: RideSetup, fit: SetupFit, samples: pd.DataFrame, spans: Sequence[Span] = USUAL_SPANS) -> FoundRuns:
    """Find and time the runs of a setup.

    Parameters
    ----------
    ride : RideSetup
        The recordings.
    fit : SetupFit
        For the noise that samples in gear show.
    samples : pandas.DataFrame
        As `SetupResult.samples`: gear and engine speed of every sample.
    spans : sequence of Span
        The spans asked for.
    """
    seen = seen_in(ride, fit, samples)
    return runs_in(
        [one.trace for one in seen],
        [one.noise for one in seen],
        spans,
        ride.setup.conditions,
        engines=[one.engine for one in seen],
        recorded=[one.recorded for one in seen],
    )


def runs_in(
    traces: Sequence[Trace],
    noises: Sequence[SpeedNoise],
    spans: Sequence[Span] = USUAL_SPANS,
    conditions: Conditions | None = None,
    *,
    engines: Sequence[EngineSpeeds | None] | None = None,
    recorded: Sequence[Recorded] | None = None,
    keep_roughness: bool = False,
) -> FoundRuns:
    """Find and time the runs in the traces of one setup, whose noise is known (`keep_roughness`: all of it).

    `recorded` are the same traces with the engine speed as recorded; where not given it is that of `traces`.
    """
    recorded = recorded or [Recorded(trace, trace.time_s, trace.engine_rpm) for trace in traces]
    parts = zip(traces, noises, engines or [None] * len(traces), recorded, strict=True)
    materials = [_material(*part, spans, keep_roughness) for part in parts]
    most = envelope([material.pull for material in materials])
    timed: list[tuple[str, float, TimedSpan]] = []
    left_out: list[LeftOutRun] = []
    for material in materials:
        for run in material.candidates:
            found = _judged(material, run, most, conditions or Conditions())
            if isinstance(found, LeftOutRun):
                left_out.append(found)
            else:
                timed.append((material.trace.clock, material.trace.start_s + (found.start_s or 0.0), found))
    kept = _each_once(timed)
    return FoundRuns(tuple(kept), tuple(_worth_listing(left_out, kept)))


def _material(
    trace: Trace,
    noise: SpeedNoise,
    engine: EngineSpeeds | None,
    recorded: Recorded,
    spans: Sequence[Span],
    keep_roughness: bool,
) -> _Material:
    candidates = tuple(run for span in spans for run in find_candidates(trace, span))
    whole = [run for run in candidates if run.whole and not run.problem]
    quick = sorted(whole, key=lambda run: float(trace.time_s[run.last] - trace.time_s[run.first]))
    if not keep_roughness:
        windows = dict.fromkeys(around(trace, run.last - 1) for run in quick)
        noise = with_roughness(trace, noise, [w for w in windows if w[1] - w[0] >= 3])
        launches = {run.first: run for run in quick if run.span.from_mps == 0}
        noise = with_launch_roughness(noise, [start_samples(trace, noise, run) for run in launches.values()])
    standing = np.zeros(trace.time_s.size, dtype=bool)
    for run in candidates:
        if run.standing:
            standing[run.first : run.last + 1] = True
    rest = at_rest(trace)
    return _Material(trace, noise, engine, recorded, rest, pull_of(trace, standing), rise_sd_m(trace, rest), candidates)


def _judged(
    material: _Material, run: Candidate, most: dict[int, float], conditions: Conditions
) -> TimedSpan | LeftOutRun:
    trace = material.trace
    share = share_of_envelope(material.pull, run.first, run.last, most)
    least = LEAST_SHARE if trace.has_gears else LEAST_SHARE_NO_GEARS
    if run.problem:
        # Slow riding that never got there is no attempt.
        problem = run.problem if run.whole or share >= least else ""
        return replace(_left_out(trace, run, None, problem), speed_mps=run.problem_mps)
    timed = time_run(trace, material.noise, run, material.engine)
    if isinstance(timed, str):
        return _left_out(trace, run, None, timed)
    time_s = timed.time_s
    grade = grade_percent(trace, run.first, run.last, material.rise_sd_m)
    if share < least:
        return _left_out(trace, run, time_s.value, f"part throttle: {100 * share:.0f} % of the hardest acceleration")
    if too_steep(grade):
        return _left_out(trace, run, time_s.value, too_steep(grade))
    if time_s.se > _COARSEST * time_s.value:
        return _left_out(trace, run, time_s.value, f"too coarse: its standard error is {time_s.se:.1f} s")
    recorded = material.recorded
    path = course(recorded.trace, material.noise, run, timed)
    parts = engagements(path, time_s.value, trace.interval_s) if trace.has_gears else []
    gears = tuple(dict.fromkeys(part[0] for part in parts))
    return TimedSpan(
        source=trace.file,
        from_mps=run.span.from_mps,
        to_mps=run.span.to_mps,
        start_s=timed.start_s,
        time_s=time_s,
        kind="ride",
        how=_how(run, gears),
        from_rest=run.standing,
        gears=gears,
        shifts=shifts_in(path, parts, trace.interval_s, recorded.rpm_time_s - timed.start_s, recorded.engine_rpm),
        errors_s=timed.errors_s,
        rollout_time_s=timed.rollout_time_s,
        grade_percent=grade,
        heading_deg=heading_deg(trace, run.first, run.last),
        corrected_time_s=corrected(time_s, conditions),
        trace=path,
    )


def _how(run: Candidate, gears: tuple[int, ...]) -> How:
    if run.span.from_mps == 0:
        return "standing start"
    return "through the gears" if run.standing or len(gears) > 1 else "roll-on"


def _left_out(trace: Trace, run: Candidate, time_s: float | None, reason: str) -> LeftOutRun:
    return LeftOutRun(trace.file, run.span.from_mps, run.span.to_mps, float(trace.time_s[run.first]), time_s, reason)


def _each_once(timed: list[tuple[str, float, TimedSpan]]) -> list[TimedSpan]:
    """Keep the better one of two recorders' views of the same run."""
    kept: list[tuple[str, float, TimedSpan]] = []
    for clock, begun_s, run in timed:
        for k, (other_clock, other_begun_s, other) in enumerate(kept):
            same = (run.from_mps, run.to_mps) == (other.from_mps, other.to_mps) and run.source != other.source
            if same and clock == other_clock and abs(begun_s - other_begun_s) < _SAME_RUN_S:
                if run.time_s.se < other.time_s.se:
                    kept[k] = (clock, begun_s, run)
                break
        else:
            kept.append((clock, begun_s, run))
    return [run for _, _, run in kept]


def _worth_listing(left_out: list[LeftOutRun], kept: list[TimedSpan]) -> list[LeftOutRun]:
    """Leave away ordinary riding: what has no reason, or took far longer than the quickest."""
    quickest: dict[tuple[float, float], float] = {}
    for run in kept:
        key = (run.from_mps, run.to_mps)
        quickest[key] = min(quickest.get(key, np.inf), run.time_s.value)
    found = []
    for one in left_out:
        best = quickest.get((one.from_mps, one.to_mps), np.inf)
        if one.reason and (one.time_s is None or one.time_s <= _ORDINARY * best):
            found.append(one)
    return found
