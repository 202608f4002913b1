"""The fit of one setup's timed logs: lag, which gear when, and each gear's level, in turn until they agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.correlated import Noise
from gearfit.fitting.drive import Drive, drives
from gearfit.fitting.evidence import LEAST_ODDS, odds_of_steps, place
from gearfit.fitting.gear_path import most_likely_path
from gearfit.fitting.joint import solve
from gearfit.fitting.known_ladder import EXPECTED_SHIFT_SD, INDEPENDENT_S, LadderFit, fit_shift
from gearfit.fitting.ladder import Ladder
from gearfit.fitting.lag_step import improve
from gearfit.fitting.level_runs import LAG_SD_S, steps_seen
from gearfit.fitting.levels import Levels
from gearfit.fitting.line_of_gears import places_in_line, without_room
from gearfit.fitting.medians import median
from gearfit.fitting.observed import Observed, observe
from gearfit.fitting.passage import away_from_shifts, passages
from gearfit.fitting.ridden import idling, renumbered, surely_ridden
from gearfit.fitting.settled_samples import SLACK, in_gear, standard_errors, with_slack
from gearfit.fitting.state import PRIOR_LAG_SD_S, State, lag_beliefs, started
from gearfit.fitting.stream import Stream
from gearfit.fitting.unknown_ladder import find_steps, too_few_text

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_ROUNDS: Final = 6
#: ... or until no lag moves by more than this, s.
_STILL_S: Final = 0.001
#: A gear's level follows its samples once it has this many.
_FOLLOW: Final = 8
#: A lag counts as found when its standard error is below this share of that.
_LAG_KNOWN: Final = 0.5
#: A ride with these log odds of its ladder shows lag and levels by itself: two minutes of ordinary riding have them.
_PLAIN: Final = 100.0
#: Rides with less moving time than this are short, s; what each step that was found costs, ln odds.
_SHORT_S: Final = 30.0
_STEP_COST: Final = 3.0
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
        Whether lag and place of the ladder were found together, as the ride does not show the lag by itself.
    by_runs : bool
        Whether the steps are those of a short ride that may have used each once; only without a ladder.
    """

    streams: tuple[StreamFit, ...]
    levels: Levels | None
    centres: FloatArray
    shift: LadderFit | None
    reason: str
    doubtful: FloatArray
    by_starts: bool = False
    by_runs: bool = False


def fit_timed(streams: Sequence[Stream], ladder: Ladder | None) -> TimedFit:
    """Fit the timed logs of one setup.

    Parameters
    ----------
    streams : sequence of Stream
        At least one.
    ladder : Ladder or None
        None: the steps are sought in the samples.
    """
    states = [started(s) for s in streams]
    if ladder is None:
        found = _by_samples(states)
        return found if found.levels is not None else _by_runs(streams, found)
    found = _by_ladder(states, ladder, None)
    odds = odds_of_steps([s.observed for s in found.streams], ladder)
    if odds >= _PLAIN:
        return found
    placed = place(streams, ladder)
    if placed is not None and placed.sure:
        states = [started(s, lag) for s, lag in zip(streams, placed.lags, strict=True)]
        return _by_ladder(states, ladder, placed.shift)
    if odds >= LEAST_ODDS:
        return found
    gone = [s.observed for s in found.streams]
    reason = _no_evidence_text(odds) if np.isfinite(odds) else too_few_text(sum(o.log_ratio.size for o in gone))
    return _none_found(states, gone, found.shift, reason, np.empty(0))


def _by_samples(states: Sequence[State]) -> TimedFit:
    """Fit without a ladder: the steps are sought in the samples."""
    observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
    steps = find_steps(observed)
    if steps.reason:
        return _none_found(states, observed, None, steps.reason, np.empty(0))
    found = _settle(states, observed, steps.centres, None)
    observed, paths, sd, centres = found
    path = np.concatenate(paths)
    time_s = np.concatenate([o.seconds for o in observed])
    seconds = np.bincount(path + 1, time_s, minlength=centres.size + 1)[1:].astype(np.float64)
    sure = surely_ridden(observed, paths, sd, centres.size) & ~idling(observed, paths, centres.size)
    sure[sure] = ~without_room(centres[sure], seconds[sure])
    doubtful = centres[~sure & (seconds > 0)]
    share = float(np.mean(path >= 0))
    if share < _LEAST_IN_GEAR:
        return _none_found(states, observed, None, _elsewhere_text(share), doubtful)
    return _finished(states, _in_line(found, sure), None, doubtful)


def _by_runs(streams: Sequence[Stream], refused: TimedFit) -> TimedFit:
    """Fit a short ride by the stretches in which the ratio stays put; each step may have been used but once.

    Steps that were found, and not stated, cost odds of exp(3) each: that is what their free places are worth.
    """
    moving_s = sum(float(s.observed.seconds.sum()) for s in refused.streams)
    if moving_s > _SHORT_S:
        return refused
    steps, lag_s = steps_seen(streams)
    if not steps.size:
        return refused
    states = [started(stream, (lag_s, LAG_SD_S)) for stream in streams]
    observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
    odds = odds_of_steps(observed, Ladder(steps, 0.0, EXPECTED_SHIFT_SD, "from the samples")) - _STEP_COST * steps.size
    if odds < 0:
        return replace(refused, reason=f"{refused.reason}. {_seen_text(steps.size)}", doubtful=steps)
    found = _settle(states, observed, steps, None)
    brief = _only_brief(found)
    seen = np.bincount(np.concatenate(found.paths) + 1, minlength=steps.size + 1)[1:] > 0
    sure = seen & ~brief
    sure[sure] = ~without_room(found.centres[sure], np.ones(int(sure.sum())))
    return replace(_finished(states, _in_line(found, sure), None, found.centres[~sure]), by_runs=True)


def _seen_text(steps: int) -> str:
    return (
        f"{steps} steps are seen, too briefly to be sure of: state the gearbox, or use each gear twice and hold it for "
        "ten seconds"
    )


def _in_line(found: _Settled, sure: NDArray[np.bool_]) -> _Settled:
    """Keep the sure steps, with a place among them for a gear that was skipped."""
    centres = found.centres[sure]
    place_of = places_in_line(centres)
    paths = [renumbered(path, sure) for path in found.paths]
    paths = [np.where(path >= 0, place_of[np.clip(path, 0, None)], -1) for path in paths] if centres.size else paths
    count = int(place_of[-1]) + 1 if centres.size else 0
    whole = np.interp(np.arange(count), place_of, centres) if centres.size else centres
    return found._replace(paths=paths, centres=whole)


def _by_ladder(states: Sequence[State], ladder: Ladder, placed: LadderFit | None) -> TimedFit:
    """Fit with a ladder, placed here or beforehand."""
    observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
    if not any(o.log_ratio.size for o in observed):
        return _none_found(states, observed, None, too_few_text(0), np.empty(0))
    shift = placed or _place(observed, ladder)
    stated = ladder.log_ratio if ladder.origin == "tooth counts" else None
    found = _settle(states, observed, ladder.log_ratio + shift.shift, stated)
    if placed is None:
        return _finished(states, found, shift, np.empty(0))
    brief = _only_brief(found)
    paths = [np.where(brief[path] & (path >= 0), -1, path) for path in found.paths]
    return _finished(states, found._replace(paths=paths), shift, found.centres[brief], by_starts=True)


def _only_brief(found: _Settled) -> NDArray[np.bool_]:
    """Mark the gears of which a short ride shows nothing but the ends of passages, where the clutch still slips."""
    seen, away = np.zeros((2, found.centres.size), dtype=bool)
    for o, path in zip(found.observed, found.paths, strict=True):
        seen[path[path >= 0]] = True
        away[path[away_from_shifts(o.time_s, passages(o.time_s, path))]] = True
    return np.asarray(seen & ~away)


class _Settled(NamedTuple):
    """Samples of each stream, the gear of each, its standard error, and the centres of the gears."""

    observed: list[Observed]
    paths: list[IntArray]
    sd: list[FloatArray]
    centres: FloatArray


def _settle(
    states: Sequence[State], observed: list[Observed], centres: FloatArray, stated: FloatArray | None
) -> _Settled:
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
    return _Settled(observed, _paths(observed, sd, centres), sd, centres)


def _paths(observed: Sequence[Observed], sd: Sequence[FloatArray], centres: FloatArray) -> list[IntArray]:
    return [most_likely_path(o.time_s, o.log_ratio, s, centres) for o, s in zip(observed, sd, strict=True)]


def _finished(
    states: Sequence[State],
    found: _Settled,
    shift: LadderFit | None,
    doubtful: FloatArray,
    *,
    by_starts: bool = False,
) -> TimedFit:
    levels = _levels(states, *found) if found.centres.size else None
    fits = tuple(_stream_fit(s, o, path) for s, o, path in zip(states, found.observed, found.paths, strict=True))
    reason = "" if levels is not None else "no passage in any gear was found"
    return TimedFit(fits, levels, found.centres, shift, reason, doubtful, by_starts)


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


def _no_evidence_text(odds: float) -> str:
    return (
        "engine speed and road speed do not lie at the ratios of the stated gears so much more often than a drive "
        f"without steps would bring them there (the odds are 1 to {np.exp(min(-odds, 99)):.0g}): "
        "an automatic or a belt drive, a ride too short or with too much clutch work, other ratios than stated, or the "
        "two channels do not belong together"
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
    """Find the levels of all gears, and the last touch to each lag.

    A lag that is held moves nothing, but its error moves the levels: what one standard error of it does to them is
    added to their covariance (a consider parameter, as S. F. Schmidt treats a bias that is not estimated; from memory).
    """
    active, samples = in_gear(states, observed, paths, sd, centres)
    if not samples:
        return None
    beyond_s, believed_sd_s = lag_beliefs(active)
    offsets = [(0.0, s.offset_sd_mps) for s in active]
    found = solve(samples, beyond_s, believed_sd_s, offsets)
    covariance = found.covariance
    for i, (state, drive) in enumerate(zip(active, drives(found, samples), strict=True)):
        state.noise, state.drive = samples[i].noise, drive
        if state.held:
            aside_s = beyond_s - state.believed_lag_sd_s * (np.arange(len(active)) == i)
            moved = solve(samples, aside_s, believed_sd_s, offsets).level - found.level
            covariance = covariance + np.outer(moved, moved)
            state.lag_se_s = state.believed_lag_sd_s
        else:
            state.lag_s, state.lag_se_s = float(state.lag_s + found.lag_s[i]), float(found.lag_se_s[i])
    path = np.concatenate(paths)
    counts = np.bincount(path[path >= 0], minlength=centres.size)
    return Levels(found.gear + 1, found.level, covariance, found.dof, counts[found.gear], found.passages)


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
