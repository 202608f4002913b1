"""What might be a run: from the last sample at or below the lower speed to the first at or above the higher one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from gearfit.records.words import whole_speed
from gearfit.timed.asked import Span
from gearfit.timed.trace import BoolArray, FloatArray, Trace

#: Slower than this is standing (receivers jitter while they stand), m/s; for how long a start must stand before, s.
STANDING_MPS: Final = 0.7
_STANDS_S: Final = 1.0
#: The speed falls by no more than this in a change of gear (common practice, no source), m/s.
_MOST_FALL_MPS: Final = 2.0
#: Longer than this is no run, s.
_LONGEST_S: Final = 90.0
#: On the way from rest a start gains at least this share of what it gains in a second within the span (ours).
_LEAST_BEFORE: Final = 0.8
#: An attempt that ended before its target got at least this far.
_ATTEMPT: Final = 0.6


@dataclass(frozen=True)
class Candidate:
    """Samples from `first` (at or below the lower speed) to `last` (at or above the higher one, or the fastest).

    `standing`: it began from rest. `problem` says what it lacks ("" where nothing was seen yet), with a speed in km/h
    that `problem_mps` repeats (None: it names none); `whole`: it reached the target.
    """

    span: Span
    first: int
    last: int
    standing: bool
    problem: str
    problem_mps: float | None
    whole: bool


def at_rest(trace: Trace) -> BoolArray:
    """Tell which samples stand, for at least a second (or two samples) before they move on.

    After a gap as long, in which the machine may have stood, two samples are enough.
    """
    slow = trace.speed_mps < STANDING_MPS
    edges = np.flatnonzero(np.diff(slow.astype(np.int8), prepend=0, append=0))
    rest = np.zeros(slow.size, dtype=bool)
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        long = trace.time_s[stop - 1] - trace.time_s[start] >= _STANDS_S - 1e-6
        unseen = start > 0 and trace.time_s[start] - trace.time_s[start - 1] >= _STANDS_S
        rest[start:stop] = long or (stop - start >= 2 and (unseen or trace.interval_s >= _STANDS_S / 2))
    return rest


def find_candidates(trace: Trace, span: Span) -> list[Candidate]:
    """Find everything in a trace that might be a run over a span, in order of time."""
    rest = at_rest(trace)
    low = rest if span.from_mps == 0 else trace.speed_mps <= span.from_mps
    high = trace.speed_mps >= span.to_mps
    marked = np.flatnonzero(low | high)
    found = []
    for first, last in zip(marked[:-1].tolist(), marked[1:].tolist(), strict=True):
        if not low[first] or (last == first + 1 and not high[last]):
            continue
        one = _whole(trace, span, rest, first, last) if high[last] else _ended(trace, span, rest, first, last)
        if one is not None:
            found.append(one)
    return found


def _whole(trace: Trace, span: Span, rest: BoolArray, first: int, last: int) -> Candidate | None:
    if trace.time_s[last] - trace.time_s[first] > _LONGEST_S:
        return None
    standing = _from_rest(trace, rest, first, last)
    inside = slice(first, last + 1)
    return Candidate(span, first, last, standing, *_problem(trace, inside), whole=True)


def _problem(trace: Trace, inside: slice) -> tuple[str, float | None]:
    time_s, speed = trace.time_s[inside], trace.speed_mps[inside]
    broken = np.flatnonzero(trace.broken[inside][1:]) + 1
    if broken.size:
        k = int(broken[0])
        gap_s, gained = time_s[k] - time_s[k - 1], float(abs(speed[k] - speed[k - 1]))
        changed = whole_speed(gained, "kmh")
        return f"interrupted: no sample for {gap_s:.1f} s, in which the speed changed by {changed}", gained
    return ("interrupted: the speed fell on the way" if _fall(speed) > _MOST_FALL_MPS else ""), None


def _fall(speed: FloatArray) -> float:
    return float(np.max(np.maximum.accumulate(speed) - speed))


def _from_rest(trace: Trace, rest: BoolArray, first: int, last: int) -> bool:
    """Whether samples `first` to `last` are part of a start from rest: no falling off and no cruising before them."""
    before = np.flatnonzero(rest[: first + 1])
    if before.size == 0:
        return False
    time_s, speed = trace.time_s, trace.speed_mps
    way_s, span_s = time_s[first] - time_s[before[-1]], time_s[last] - time_s[first]
    if speed[first] * span_s < _LEAST_BEFORE * (speed[last] - speed[first]) * way_s:
        return False
    way = slice(int(before[-1]), first + 1)
    return not trace.broken[way][1:].any() and _fall(trace.speed_mps[way]) <= _MOST_FALL_MPS


def _ended(trace: Trace, span: Span, rest: BoolArray, first: int, last: int) -> Candidate | None:
    """Return a run that ended before its target; None for what never was one."""
    speed = trace.speed_mps[first:last]
    top = int(np.argmax(speed))
    reached = (speed[top] - span.from_mps) / (span.to_mps - span.from_mps)
    if reached < _ATTEMPT or trace.broken[first + 1 : first + top + 1].any():
        return None
    problem = f"aborted at {whole_speed(speed[top], 'kmh')}"
    return Candidate(
        span, first, first + top, _from_rest(trace, rest, first, first + top), problem, float(speed[top]), whole=False
    )
