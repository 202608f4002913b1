"""The time of one run with its errors, and its course."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from gearfit.fitting.ratios.quantiles import estimate
from gearfit.records.results import Estimate, RunTrace
from gearfit.timed.candidates import Candidate
from gearfit.timed.engine import EngineSpeeds, Speeds, together
from gearfit.timed.noise import SpeedNoise
from gearfit.timed.smooth import Spline
from gearfit.timed.start import StartSamples, find_start
from gearfit.timed.trace import FloatArray, IntArray, Trace

#: The end is read from samples this near, s (and at least so many intervals); the start from those so near.
_AROUND_S: Final = 1.5
_AROUND_INTERVALS: Final = 3.2
_AFTER_START_S: Final = 1.0
_AFTER_INTERVALS: Final = 1.3
_BEFORE_START_S: Final = 1.0
#: The machine moves for certain at this speed, m/s.
_MOVES_MPS: Final = 1.0
#: Positions smear a start over two intervals: a further standard error, share of the interval (our assumption).
_SMEARED: Final = 0.3
#: The smoothed speed may rise through a target this far from where the recorded one does, s.
_REACH_S: Final = 0.8
#: A smoothed course is given so much before and after the run, s.
_MARGIN_S: Final = 1.0
#: At longer intervals a change of gear between two samples does not show, s; a crossing between them is off by so much:
#: 0.35 s without drive, evenly spread (our assumption).
_SHIFT_SHOWS_S: Final = 0.25
_HIDDEN_SHIFT_S: Final = 0.35 / 12**0.5
#: Splines are solved for at most so many samples at once.
_MOST_SAMPLES: Final = 160


@dataclass(frozen=True, eq=False)
class Timed:
    """A run's start (seconds of its file), time, parts of its standard error, and time from one foot on."""

    start_s: float
    time_s: Estimate
    errors_s: dict[str, float]
    rollout_time_s: Estimate | None


def around(trace: Trace, index: int) -> tuple[int, int]:
    """First and last sample near one (the sample before the moment that is sought), without a gap between them."""
    reach = max(_AROUND_S, _AROUND_INTERVALS * trace.interval_s)
    first = int(np.searchsorted(trace.time_s, trace.time_s[index] - reach))
    last = int(np.searchsorted(trace.time_s, trace.time_s[index] + reach, side="right")) - 1
    breaks = np.flatnonzero(trace.broken[first : last + 1]) + first
    first = int(max(breaks[breaks <= index], default=first))
    last = int(min(breaks[breaks > index], default=last + 1)) - 1
    return max(first, 0), last


@dataclass(frozen=True, eq=False)
class _Moment:
    """Start or end of a run: moment, and its standard error from what is its own and from what is common to the ride.

    Attributes
    ----------
    time_s, own_s : float
        The moment; its own standard error.
    common_s : (p,) float
        Errors that go with standard normal numbers, the same ones for all moments; none where p = 0.
    rollout_s : float or None
        How long the first foot takes, for a standing start.
    """

    time_s: float
    own_s: float
    common_s: FloatArray
    rollout_s: float | None = None


def time_run(trace: Trace, noise: SpeedNoise, run: Candidate, engine: EngineSpeeds | None = None) -> Timed | str:
    """Time a run, by the engine speed too where it is known; a sentence where it cannot be timed."""
    end = _crossing(trace, noise, engine, run.last - 1, run.span.to_mps, run.last)
    if end is None:
        return "too few samples around its end"
    begun = _begun(trace, noise, run, engine)
    if begun is None:
        return "too few samples around its start"
    time_s = end.time_s - begun.time_s
    if time_s <= 0:
        return "too few samples to tell its start from its end"
    both = end.common_s - begun.common_s if begun.common_s.size == end.common_s.size else end.common_s
    errors = {"start": begun.own_s, "end": end.own_s, "common": float(np.linalg.norm(both))}
    se = float(np.linalg.norm(list(errors.values())))
    rollout = None if begun.rollout_s is None else estimate(time_s - begun.rollout_s, se, np.inf)
    return Timed(begun.time_s, estimate(time_s, se, np.inf), errors, rollout)


def _begun(trace: Trace, noise: SpeedNoise, run: Candidate, engine: EngineSpeeds | None) -> _Moment | None:
    """Return when a run begins."""
    if run.span.from_mps > 0:
        begun = _crossing(trace, noise, engine, run.first, run.span.from_mps, run.first + 1, begins=True)
    else:
        start = find_start(start_samples(trace, noise, run), noise)
        begun = _Moment(start.time_s, start.se_s, np.zeros(0), start.rollout_s)
    if begun is None or trace.source != "position":
        return begun
    return replace(begun, own_s=float(np.hypot(begun.own_s, _SMEARED * trace.interval_s)))


def _crossing(
    trace: Trace,
    noise: SpeedNoise,
    engine: EngineSpeeds | None,
    index: int,
    target: float,
    upper: int,
    *,
    begins: bool = False,
) -> _Moment | None:
    first, last = around(trace, index)
    if last - first < 2 or not first <= upper <= last:
        return None
    part = slice(first, last + 1)
    time_s, speed = trace.time_s[part], trace.speed_mps[part]
    own = noise.covariance(time_s, speed, trace.speed_sd_mps[part])
    seen = Speeds(time_s, speed, own, np.zeros((time_s.size, 0)))
    low, high = float(trace.time_s[index]), float(trace.time_s[upper])
    if engine is not None:
        seen = together(seen, engine.near(0.5 * (low + high), 0.5 * float(time_s[-1] - time_s[0])))
    spline = Spline(seen.time_s, seen.speed_mps, seen.own + seen.common @ seen.common.T, noise.roughness)
    reach = max(_REACH_S, trace.interval_s)
    ends = max(low - reach, float(time_s[0])), min(high + reach, float(time_s[-1]))
    found = spline.crossing(target, *ends, last=begins)
    if found is None:
        return None
    moment, se_s, rate = found
    if trace.interval_s > _SHIFT_SHOWS_S and trace.has_gears and not _one_gear(trace.gear[index : upper + 1]):
        se_s = float(np.hypot(se_s, _HIDDEN_SHIFT_S))
    common_s = -spline.response(moment, seen.common) / rate
    return _Moment(moment, max(se_s**2 - float(common_s @ common_s), 0.0) ** 0.5, common_s)


def _one_gear(gear: IntArray) -> bool:
    return bool(gear[0] > 0 and np.all(gear == gear[0]))


def start_samples(trace: Trace, noise: SpeedNoise, run: Candidate) -> StartSamples:
    """Return the samples around the first movement of a run from rest."""
    speed = trace.speed_mps
    moves = max(_MOVES_MPS, 6 * float(np.hypot(noise.white_mps, noise.correlated_mps)))
    still = np.flatnonzero(speed[run.first : run.last + 1] < moves)
    moving = run.first + int(still[-1]) + 1 if still.size else run.first + 1
    high_s = float(trace.time_s[moving])
    low_s = high_s - max(_BEFORE_START_S, 2 * trace.interval_s)
    begin = int(np.searchsorted(trace.time_s, low_s - 3 * trace.interval_s))
    begin = max(begin, int(max(np.flatnonzero(trace.broken[: moving + 1]), default=0)))
    stop = int(np.searchsorted(trace.time_s, high_s + max(_AFTER_START_S, _AFTER_INTERVALS * trace.interval_s)))
    part = slice(begin, min(max(stop, moving + 2), run.last + 2, speed.size))
    return StartSamples(trace.time_s[part], speed[part], trace.speed_sd_mps[part], low_s, high_s)


def course(trace: Trace, noise: SpeedNoise, run: Candidate, timed: Timed) -> RunTrace:
    """Return the smoothed course of a run, from a second before its start to a second after its end."""
    end_s = timed.start_s + timed.time_s.value
    first = int(np.searchsorted(trace.time_s, timed.start_s - _MARGIN_S))
    last = int(np.searchsorted(trace.time_s, end_s + _MARGIN_S, side="right"))
    breaks = np.flatnonzero(trace.broken)
    first = int(max(breaks[breaks <= run.first], default=first, key=int)) if _cut(breaks, first, run.first) else first
    later = breaks[(breaks > run.last) & (breaks < last)]
    last = int(later[0]) if later.size else last
    part = slice(first, last)
    time_s, recorded = trace.time_s[part], trace.speed_mps[part]
    speed, rate = np.empty_like(recorded), np.empty_like(recorded)
    for begin in range(0, time_s.size, _MOST_SAMPLES // 2):
        low, high = max(begin - _MOST_SAMPLES // 4, 0), min(begin + 3 * _MOST_SAMPLES // 4, time_s.size)
        wanted = slice(begin, min(begin + _MOST_SAMPLES // 2, time_s.size))
        if high - low < 3:
            speed[wanted], rate[wanted] = recorded[wanted], np.nan
            continue
        error = noise.covariance(time_s[low:high], recorded[low:high], trace.speed_sd_mps[part][low:high])
        spline = Spline(time_s[low:high], recorded[low:high], error, noise.roughness)
        speed[wanted], rate[wanted] = spline.speed_at(time_s[wanted])
    return RunTrace(
        time_s=time_s - timed.start_s,
        recorded_mps=recorded,
        speed_mps=np.maximum(speed, 0.0),
        acceleration_mps2=rate,
        engine_rpm=trace.engine_rpm[part],
        gear=trace.gear[part],
    )


def _cut(breaks: np.typing.NDArray[np.int64], first: int, run_first: int) -> bool:
    return bool(np.any((breaks > first) & (breaks <= run_first)))
