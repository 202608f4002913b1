"""Rounds of the fit of timed logs: which gear when, each gear's level and each lag, in turn until they agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.medians import median
from gearfit.fitting.pairing.observed import Observed, observe
from gearfit.fitting.ratios.drive import drives
from gearfit.fitting.ratios.engine_offset import engine_offset
from gearfit.fitting.ratios.joint import InGear, solve
from gearfit.fitting.ratios.lag_step import improve
from gearfit.fitting.ratios.levels import SHARED, Levels
from gearfit.fitting.ratios.settled_samples import in_gear, standard_errors, with_slack
from gearfit.fitting.ratios.state import PRIOR_LAG_SD_S, State, lag_beliefs
from gearfit.fitting.ratios.timed_fit import TimedFit, stream_fit
from gearfit.fitting.ratios.unequal_lag import unequal_lag
from gearfit.fitting.which_gear.gear_path import most_likely_path
from gearfit.fitting.which_gear.known_ladder import LadderFit

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_ROUNDS: Final = 6
#: ... or until no lag moves by more than this, s.
_STILL_S: Final = 0.001
#: A gear's level follows its samples once it has this many.
_FOLLOW: Final = 8


class Settled(NamedTuple):
    """Samples of each stream, the gear of each, its standard error, and the centres of the gears."""

    observed: list[Observed]
    paths: list[IntArray]
    sd: list[FloatArray]
    centres: FloatArray


def settle(
    states: Sequence[State], observed: list[Observed], centres: FloatArray, stated: FloatArray | None
) -> Settled:
    """Find path, centres and lags in turn until they agree; the states take up the lags."""
    sd = [with_slack(o.log_ratio_sd) for o in observed]
    for _ in range(_ROUNDS):
        paths = _paths(observed, sd, centres)
        centres = _follow(observed, paths, sd, centres)
        moved_s = improve(states, observed, paths, sd, centres, stated)
        observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
        sd = standard_errors(observed, centres)
        if moved_s < _STILL_S:
            break
    return Settled(observed, _paths(observed, sd, centres), sd, centres)


def _paths(observed: Sequence[Observed], sd: Sequence[FloatArray], centres: FloatArray) -> list[IntArray]:
    return [most_likely_path(o.time_s, o.log_ratio, s, centres) for o, s in zip(observed, sd, strict=True)]


def finished(
    states: Sequence[State],
    found: Settled,
    shift: LadderFit | None,
    doubtful: FloatArray,
    *,
    by_starts: bool = False,
) -> TimedFit:
    """Give levels and fits of what was settled."""
    levels = _levels(states, *found) if found.centres.size else None
    fits = tuple(stream_fit(s, o, path) for s, o, path in zip(states, found.observed, found.paths, strict=True))
    reason = "" if levels is not None else "no passage in any gear was found"
    return TimedFit(fits, levels, found.centres, shift, reason, doubtful, by_starts)


def none_found(
    states: Sequence[State], observed: Sequence[Observed], shift: LadderFit | None, reason: str, doubtful: FloatArray
) -> TimedFit:
    """Give a fit without levels, and why."""
    fits = tuple(stream_fit(s, o, np.full(o.index.size, -1)) for s, o in zip(states, observed, strict=True))
    return TimedFit(fits, None, np.empty(0), shift, reason, doubtful)


def _follow(
    observed: Sequence[Observed], paths: Sequence[IntArray], sd: Sequence[FloatArray], centres: FloatArray
) -> FloatArray:
    """Move each gear's centre to the median of its samples, gears without samples along with the others."""
    moved = np.full(centres.size, np.nan)
    path, error = np.concatenate(paths), np.concatenate(sd)
    log_ratio = np.concatenate([o.log_ratio for o in observed])
    for g in range(centres.size):
        inside = path == g
        values, errors = log_ratio[inside], error[inside]
        if values.size >= _FOLLOW:
            sharp = errors <= median(errors)
            moved[g] = median(values[sharp])
    common = float(np.nanmedian(moved - centres)) if np.isfinite(moved).any() else 0.0
    return np.where(np.isfinite(moved), moved, centres + common)


def _levels(
    states: Sequence[State],
    observed: Sequence[Observed],
    paths: Sequence[IntArray],
    sd: Sequence[FloatArray],
    centres: FloatArray,
) -> Levels | None:
    """Find the levels of all gears, and the last touch to each lag.

    A lag that is held moves nothing, but its error moves the levels: what one standard error of it does to them is
    added to their covariance (a consider parameter, as S. F. Schmidt treats a bias that is not estimated; from memory).
    So is what remains open of engine speeds that are wrong throughout, which all setups share, and what a lag that is
    not the same in all gears and passages may do.
    """
    active, samples = in_gear(states, observed, paths, sd, centres)
    if not samples:
        return None
    beyond_s, believed_sd_s = lag_beliefs(active)
    offsets = [(0.0, s.offset_sd_mps) for s in active]
    found = solve(samples, beyond_s, believed_sd_s, offsets)
    covariance = found.covariance + unequal_lag(samples, found, beyond_s, believed_sd_s, offsets)
    for i, (state, drive) in enumerate(zip(active, drives(found, samples), strict=True)):
        state.noise, state.drive = samples[i].noise, drive
        state.engine = engine_offset(samples[i], PRIOR_LAG_SD_S, state.offset_sd_mps)
        if state.held:
            aside_s = beyond_s - state.believed_lag_sd_s * (np.arange(len(active)) == i)
            moved = solve(samples, aside_s, believed_sd_s, offsets).level - found.level
            covariance = covariance + np.outer(moved, moved)
            state.lag_se_s = state.believed_lag_sd_s
        else:
            state.lag_s, state.lag_se_s = float(state.lag_s + found.lag_s[i]), float(found.lag_se_s[i])
    shared = np.zeros((found.gear.size, len(SHARED)))
    shared[:, SHARED.index("slip")] = found.unusual_slip
    if any(s.stream.engine_offset_sd_rpm for s in active):
        aside = [_with_engine_aside(*pair) for pair in zip(active, samples, strict=True)]
        moved = solve(aside, beyond_s, believed_sd_s, offsets).level - found.level
        shared[:, SHARED.index("engine speed")] = moved
        covariance = covariance + np.outer(moved, moved)
    path = np.concatenate(paths)
    counts = np.bincount(path[path >= 0], minlength=centres.size)
    return Levels(found.gear + 1, found.level, covariance, found.dof, counts[found.gear], found.passages, shared)


def _with_engine_aside(state: State, s: InGear) -> InGear:
    """Raise the engine speeds by one standard deviation of what they may be wrong by: ln(n/v) rises by that over n."""
    engine_rpm = s.speed_mps * np.exp(s.log_ratio)
    return replace(s, log_ratio=s.log_ratio + state.stream.engine_offset_sd_rpm / engine_rpm)
