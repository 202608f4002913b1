"""The fit of one setup's timed logs: lag, which gear when, and each gear's level, in turn until they agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.correlated import Noise
from gearfit.fitting.drive import Drive, drives
from gearfit.fitting.gear_path import most_likely_path
from gearfit.fitting.joint import solve
from gearfit.fitting.known_ladder import INDEPENDENT_S, LadderFit, fit_shift
from gearfit.fitting.ladder import Ladder
from gearfit.fitting.lag_step import improve
from gearfit.fitting.levels import Levels
from gearfit.fitting.medians import median
from gearfit.fitting.observed import Observed, observe
from gearfit.fitting.ridden import renumbered, surely_ridden
from gearfit.fitting.settled_samples import SLACK, in_gear, standard_errors, with_slack
from gearfit.fitting.starts import place_by_starts
from gearfit.fitting.state import PRIOR_LAG_SD_S, State, lag_beliefs, started
from gearfit.fitting.stream import Stream
from gearfit.fitting.unknown_ladder import find_steps, not_stepped

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_ROUNDS: Final = 6
#: ... or until no lag moves by more than this, s.
_STILL_S: Final = 0.001
#: A gear's level follows its samples once it has this many.
_FOLLOW: Final = 8
#: A lag counts as found when its standard error is below this share of that.
_LAG_KNOWN: Final = 0.5
#: Share of the moving samples that must lie in gears: stepped gearboxes show 0.8 and more, belt drives up to 0.61.
_LEAST_IN_GEAR: Final = 0.7


@dataclass(frozen=True, eq=False)
class StreamFit:
    """What was found for one stream: lag and speed offset with their standard errors, noise, gear per sample.

    `noise` and `drive` are None where no sample was in gear.
    """

    stream: Stream
    lag_s: float
    lag_se_s: float
    lag_known: bool
    offset_mps: float
    offset_se_mps: float
    noise: Noise | None
    observed: Observed
    path: IntArray
    drive: Drive | None = None


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
    doubtful : (D,) float
        ln(n/v) of steps that were engaged once and too briefly to be called gears; only without a ladder.
    by_starts : bool
        Whether the gears were found in hard starts alone, by lag and ladder together.
    """

    streams: tuple[StreamFit, ...]
    levels: Levels | None
    centres: FloatArray
    shift: LadderFit | None
    reason: str
    doubtful: FloatArray
    by_starts: bool = False


def fit_timed(streams: Sequence[Stream], ladder: Ladder | None) -> TimedFit:
    """Fit the timed logs of one setup.

    Parameters
    ----------
    streams : sequence of Stream
        At least one.
    ladder : Ladder or None
        None: the steps are sought in the samples.
    """
    found = _fit([started(s) for s in streams], ladder, None)
    if found.levels is not None or ladder is None:
        return found
    place = place_by_starts(streams, ladder)
    if place is None:
        return found
    states = [started(s, lag) for s, lag in zip(streams, place.lags, strict=True)]
    again = _fit(states, ladder, place.shift)
    return again if again.levels is not None else found


def _fit(states: Sequence[State], ladder: Ladder | None, by_starts: LadderFit | None) -> TimedFit:
    """Fit from where the states stand; `by_starts`, the ladder's place, takes the proof of steps as given."""
    observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
    shift = by_starts
    if ladder is None:
        steps = find_steps(observed)
        centres, reason = steps.centres, steps.reason
    else:
        reason = "" if shift is not None else not_stepped(observed)
        if not reason:
            shift = shift or _place(observed, ladder)
            centres = ladder.log_ratio + shift.shift
    if reason:
        return _none_found(states, observed, None, reason, np.empty(0))
    stated = ladder.log_ratio if ladder is not None and ladder.origin == "tooth counts" else None
    sd = [with_slack(o.log_ratio_sd) for o in observed]
    for _ in range(_ROUNDS):
        paths = [most_likely_path(o.time_s, o.log_ratio, s, centres) for o, s in zip(observed, sd, strict=True)]
        centres = _follow(observed, paths, sd, centres)
        moved_s = improve(states, observed, paths, sd, centres, stated)
        observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
        sd = standard_errors(observed, centres)
        if moved_s < _STILL_S:
            break
    paths = [most_likely_path(o.time_s, o.log_ratio, s, centres) for o, s in zip(observed, sd, strict=True)]
    share = float(np.mean(np.concatenate(paths) >= 0)) if observed else 0.0
    doubtful = np.empty(0)
    if ladder is None:
        sure = surely_ridden(observed, paths, sd, centres.size)
        doubtful = centres[~sure & (np.bincount(np.concatenate(paths) + 1, minlength=centres.size + 1)[1:] > 0)]
        paths = [renumbered(path, sure) for path in paths]
        centres = centres[sure]
    if share < _LEAST_IN_GEAR and by_starts is None:
        return _none_found(states, observed, shift, _elsewhere_text(share), doubtful)
    levels = _levels(states, observed, paths, sd, centres) if centres.size else None
    fits = tuple(_stream_fit(s, o, path) for s, o, path in zip(states, observed, paths, strict=True))
    reason = "" if levels is not None else "no passage in any gear was found"
    return TimedFit(fits, levels, centres, shift, reason, doubtful, by_starts is not None)


def _none_found(
    states: Sequence[State], observed: Sequence[Observed], shift: LadderFit | None, reason: str, doubtful: FloatArray
) -> TimedFit:
    fits = tuple(_stream_fit(s, o, np.full(o.index.size, -1)) for s, o in zip(states, observed, strict=True))
    return TimedFit(fits, None, np.empty(0), shift, reason, doubtful)


def _elsewhere_text(share: float) -> str:
    return (
        f"only {100 * share:.0f} % of the moving samples lie at the ratios of gears "
        f"(at least {100 * _LEAST_IN_GEAR:.0f} % would show gears): an automatic or a belt drive, much clutch work, "
        "other ratios than stated, or the two channels do not belong together"
    )


def _place(observed: Sequence[Observed], ladder: Ladder) -> LadderFit:
    return fit_shift(
        np.concatenate([o.log_ratio for o in observed]),
        np.hypot(np.concatenate([o.log_ratio_sd for o in observed]), SLACK),
        np.concatenate([np.minimum(1.0, o.seconds / INDEPENDENT_S) for o in observed]),
        ladder.log_ratio,
        ladder.expected_shift,
        ladder.shift_sd,
    )


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
    """Find the levels of all gears, and the last touch to each lag."""
    active, samples = in_gear(states, observed, paths, sd, centres)
    if not samples:
        return None
    found = solve(samples, *lag_beliefs(active), [(0.0, s.offset_sd_mps) for s in active])
    for i, (state, drive) in enumerate(zip(active, drives(found, samples), strict=True)):
        state.noise, state.drive = samples[i].noise, drive
        state.lag_s, state.lag_se_s = float(state.lag_s + found.lag_s[i]), float(found.lag_se_s[i])
    path = np.concatenate(paths)
    counts = np.bincount(path[path >= 0], minlength=centres.size)
    return Levels(found.gear + 1, found.level, found.covariance, found.dof, counts[found.gear], found.passages)


def _stream_fit(state: State, o: Observed, path: IntArray) -> StreamFit:
    known = state.lag_se_s < _LAG_KNOWN * PRIOR_LAG_SD_S
    return StreamFit(
        state.stream,
        state.lag_s,
        state.lag_se_s,
        known,
        state.offset_mps,
        state.offset_sd_mps,
        state.noise,
        o,
        path,
        state.drive,
    )
