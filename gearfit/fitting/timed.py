"""The fit of one setup's timed logs: lag, which gear when, and each gear's level, in turn until they agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.density import concentration
from gearfit.fitting.gear_path import most_likely_path, passages
from gearfit.fitting.known_ladder import LadderFit, fit_shift
from gearfit.fitting.ladder import Ladder
from gearfit.fitting.lag import Correction, correction
from gearfit.fitting.levels import Levels, pool
from gearfit.fitting.noise import scatter
from gearfit.fitting.observed import Observed, observe
from gearfit.fitting.passage import Passages, fit_passages, settled
from gearfit.fitting.streams import Stream
from gearfit.fitting.unknown_ladder import find_steps, not_stepped

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Lags tried first, s, before the fine search.
_COARSE_LAGS_S: Final = np.arange(-0.6, 1.01, 0.1)
_LARGEST_LAG_S: Final = 2.0
#: What is believed of a lag before the fit, s: it decides only where the ride does not.
_PRIOR_LAG_SD_S: Final = 0.2
_ROUNDS: Final = 5
#: Speeds written in steps at least this coarse, m/s, are checked for being cut down instead of rounded.
_COARSE_STEP_MPS: Final = 0.1
#: Slack of a sample about its gear while gears are assigned, ln ratio (drive slip, uneven teeth, chain).
_SLACK: Final = 0.004
#: A gear's level follows its samples once it has this many.
_FOLLOW: Final = 8
#: Drive slip per acceleration, 1/(m/s2): it acts like a lag of this times the speed (tyre on a dry road, machine and
#: rider of 250 kg; our assumption, no source).
_SLIP_PER_MPS2: Final = 0.0005
#: A step found in the samples is a gear if engaged this often, or for this long, s.
_LEAST_ENGAGED: Final = 2
_LONG_S: Final = 10.0
#: Time over which samples count as one observation when ladders are compared, s.
_INDEPENDENT_S: Final = 2.0


@dataclass(frozen=True, eq=False)
class StreamFit:
    """What was found for one stream: lag and speed offset with their standard errors, gear per sample."""

    stream: Stream
    lag_s: float
    lag_se_s: float
    lag_known: bool
    offset_mps: float
    offset_se_mps: float
    observed: Observed
    path: IntArray


@dataclass(frozen=True, eq=False)
class TimedFit:
    """Fit of all timed logs of one setup.

    Attributes
    ----------
    levels : Levels or None
        Labels are gear numbers (position in the ladder + 1); None where no gears were found.
    centres : (G,) float
        ln(n/v) of every gear of the ladder, ridden or not.
    shift : LadderFit or None
        How surely the ladder was placed; None where it came from these samples.
    reason : str
        Why there are no levels.
    """

    streams: tuple[StreamFit, ...]
    levels: Levels | None
    centres: FloatArray
    shift: LadderFit | None
    reason: str


@dataclass
class _State:
    stream: Stream
    lag_s: float
    offset_mps: float = 0.0
    offset_open: bool = False
    offset_se_mps: float = 0.0
    last: Correction | None = None


def fit_timed(streams: Sequence[Stream], ladder: Ladder | None) -> TimedFit:
    """Fit the timed logs of one setup.

    Parameters
    ----------
    streams : sequence of Stream
        At least one.
    ladder : Ladder or None
        None: the steps are sought in the samples.
    """
    states = [_start(s) for s in streams]
    observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
    shift = None
    if ladder is None:
        steps = find_steps(observed)
        centres, reason = steps.centres, steps.reason
    else:
        reason = not_stepped(observed)
        if not reason:
            shift = _place(observed, ladder)
            centres = ladder.log_ratio + shift.shift
    if reason:
        fits = tuple(_stream_fit(s, o, np.full(o.index.size, -1)) for s, o in zip(states, observed, strict=True))
        return TimedFit(fits, None, np.empty(0), None, reason)
    sd = [np.hypot(o.log_ratio_sd, _SLACK) for o in observed]
    if ladder is None:
        centres = _ridden(observed, sd, centres)
    for _ in range(_ROUNDS):
        paths = [most_likely_path(o.time_s, o.log_ratio, s, centres) for o, s in zip(observed, sd, strict=True)]
        centres = _follow(observed, paths, sd, centres)
        for state, o, path, s in zip(states, observed, paths, sd, strict=True):
            _improve(state, o, path, s, centres)
        observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
        sd = _standard_errors(observed, centres)
    paths = [most_likely_path(o.time_s, o.log_ratio, s, centres) for o, s in zip(observed, sd, strict=True)]
    fits = tuple(_stream_fit(s, o, path) for s, o, path in zip(states, observed, paths, strict=True))
    levels = _levels(fits, sd, centres)
    return TimedFit(fits, levels, centres, shift, "" if levels is not None else "no passage in any gear was found")


def _start(stream: Stream) -> _State:
    state = _State(stream, _coarse_lag(stream))
    if stream.speed_step_mps >= _COARSE_STEP_MPS:
        state.offset_open = True
        state.offset_mps = state.offset_se_mps = stream.speed_step_mps / 4
    return state


def _ridden(observed: Sequence[Observed], sd: Sequence[FloatArray], centres: FloatArray) -> FloatArray:
    """Keep the steps that were engaged at least twice, or for long: a slow clutch can draw one step that is no gear."""
    while True:
        engaged, seconds = np.zeros(centres.size), np.zeros(centres.size)
        for o, s in zip(observed, sd, strict=True):
            path = most_likely_path(o.time_s, o.log_ratio, s, centres)
            number = passages(o.time_s, path)
            inside = number >= 0
            _, first = np.unique(number[inside], return_index=True)
            engaged += np.bincount(path[inside][first], minlength=centres.size)
            seconds += np.bincount(path[inside], o.seconds[inside], minlength=centres.size)
        kept = (engaged >= _LEAST_ENGAGED) | (seconds >= _LONG_S)
        if kept.all() or not kept.any():
            return centres
        centres = centres[kept]


def _coarse_lag(stream: Stream) -> float:
    """Lag at which the ratios crowd most."""
    best, best_lag_s = -np.inf, 0.0
    for lag_s in _COARSE_LAGS_S:
        o = observe(stream, float(lag_s), 0.0)
        if o.index.size < 100:
            return 0.0
        crowding = concentration(o.log_ratio, np.hypot(o.log_ratio_sd, _SLACK))
        if crowding > best:
            best, best_lag_s = crowding, float(lag_s)
    return best_lag_s


def _place(observed: Sequence[Observed], ladder: Ladder) -> LadderFit:
    return fit_shift(
        np.concatenate([o.log_ratio for o in observed]),
        np.hypot(np.concatenate([o.log_ratio_sd for o in observed]), _SLACK),
        np.concatenate([np.minimum(1.0, o.seconds / _INDEPENDENT_S) for o in observed]),
        ladder.log_ratio,
        ladder.expected_shift,
        ladder.shift_sd,
    )


def _follow(
    observed: Sequence[Observed], paths: Sequence[IntArray], sd: Sequence[FloatArray], centres: FloatArray
) -> FloatArray:
    """Move each gear's centre to the median of its samples, gears without samples along with the others."""
    moved = np.full(centres.size, np.nan)
    for g in range(centres.size):
        values = np.concatenate([o.log_ratio[p == g] for o, p in zip(observed, paths, strict=True)])
        errors = np.concatenate([s[p == g] for s, p in zip(sd, paths, strict=True)])
        if values.size >= _FOLLOW:
            sharp = errors <= np.median(errors)
            moved[g] = float(np.median(values[sharp]))
    common = float(np.nanmedian(moved - centres)) if np.isfinite(moved).any() else 0.0
    return np.where(np.isfinite(moved), moved, centres + common)


def _improve(state: _State, o: Observed, path: IntArray, sd: FloatArray, centres: FloatArray) -> None:
    """Take one step towards the stream's lag, and decide whether its coarse speeds were cut down."""
    number = passages(o.time_s, path)
    use = settled(o.time_s, number) & np.isfinite(o.rpm_rate)
    residual = o.log_ratio[use] - centres[path[use]]
    found = correction(residual, sd[use], o.rpm_rate[use], o.speed_mps[use], path[use], number[use], state.offset_open)
    state.last = found
    if found is None:
        return
    belief = _PRIOR_LAG_SD_S**2 / (_PRIOR_LAG_SD_S**2 + found.lag_se_s**2)
    wanted = state.lag_s + found.lag_s
    state.lag_s = float(np.clip(belief * wanted, -_LARGEST_LAG_S, _LARGEST_LAG_S))
    if state.offset_open:
        state.offset_mps, state.offset_se_mps = _cut_or_rounded(
            state.offset_mps + found.offset_mps, found.offset_se_mps, state.stream.speed_step_mps / 2
        )


def _cut_or_rounded(offset_mps: float, se_mps: float, half_step_mps: float) -> tuple[float, float]:
    """Weigh "cut down" (half a step is missing) against "rounded" (nothing is): expected offset and its sd."""
    odds = np.exp(np.clip((offset_mps**2 - (offset_mps - half_step_mps) ** 2) / (2 * se_mps**2), -50, 50))
    cut = odds / (1 + odds)
    return float(half_step_mps * cut), float(half_step_mps * np.sqrt(cut * (1 - cut)))


def _standard_errors(observed: Sequence[Observed], centres: FloatArray) -> list[FloatArray]:
    """Return the standard errors of the samples' ln ratios as their scatter about the gears' centres shows them."""
    stated = [np.hypot(o.log_ratio_sd, _SLACK) for o in observed]
    log_ratio = np.concatenate([o.log_ratio for o in observed])
    nearest = np.argmin(np.abs(log_ratio[:, None] - centres[None, :]), axis=1)
    residual = log_ratio - centres[nearest]
    near = np.abs(residual) < 4 * np.concatenate(stated)
    found = scatter(residual[near], np.concatenate([o.speed_mps for o in observed])[near])
    if found is None:
        return stated
    speed_sd, rpm_sd = found
    return [np.sqrt((speed_sd / o.speed_mps) ** 2 + rpm_sd**2) for o in observed]


def _stream_fit(state: _State, o: Observed, path: IntArray) -> StreamFit:
    found = state.last
    lag_se = _PRIOR_LAG_SD_S
    if found is not None:
        slip_s = _SLIP_PER_MPS2 * float(np.mean(o.speed_mps))
        lag_se = float(np.hypot(np.hypot(1 / _PRIOR_LAG_SD_S, 1 / found.lag_se_s) ** -1, slip_s))
    return StreamFit(
        state.stream, state.lag_s, lag_se, found is not None, state.offset_mps, state.offset_se_mps, o, path
    )


def _levels(fits: Sequence[StreamFit], sd: Sequence[FloatArray], centres: FloatArray) -> Levels | None:
    parts: list[Passages] = []
    for fit, s in zip(fits, sd, strict=True):
        parts.append(fit_passages(fit.observed, fit.path, passages(fit.observed.time_s, fit.path), centres, s))
    gear = np.concatenate([p.gear for p in parts])
    if gear.size == 0:
        return None
    variance = np.concatenate([p.variance for p in parts])
    levels = pool(np.concatenate([p.level for p in parts]), variance, gear, np.concatenate([p.samples for p in parts]))
    member = np.searchsorted(levels.gear, gear)
    total = np.bincount(member, 1 / variance)
    covariance = levels.covariance.copy()
    start = 0
    for fit, p in zip(fits, parts, strict=True):
        mine = slice(start, start + p.gear.size)
        start += p.gear.size
        for effect, se in ((p.rate, fit.lag_se_s), (p.inverse_speed, fit.offset_se_mps)):
            pull = np.bincount(member[mine], effect / p.variance, minlength=levels.gear.size) / total
            covariance += se**2 * np.outer(pull, pull)
    return Levels(levels.gear + 1, levels.log_ratio, covariance, levels.dof, levels.samples, levels.passages)
