"""The fit of one setup's timed logs: with the ladder where one is known, by the samples where none is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.observed import Observed, observe
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.ratios.settle import Settled, finished, none_found, settle
from gearfit.fitting.ratios.state import State, started
from gearfit.fitting.ratios.timed_fit import TimedFit
from gearfit.fitting.which_gear.evidence import LEAST_ODDS, SLACK, odds_of_steps, place
from gearfit.fitting.which_gear.known_ladder import EXPECTED_SHIFT_SD, INDEPENDENT_S, LadderFit, fit_shift
from gearfit.fitting.which_gear.ladder import Ladder
from gearfit.fitting.which_gear.level_runs import LAG_SD_S, steps_seen
from gearfit.fitting.which_gear.line_of_gears import filled, without_room
from gearfit.fitting.which_gear.passage import away_from_shifts, passages
from gearfit.fitting.which_gear.ridden import idling, renumbered, surely_ridden
from gearfit.fitting.which_gear.unknown_ladder import find_steps, too_few_text

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: A ride with these log odds of its ladder shows lag and levels by itself: two minutes of ordinary riding have them.
_PLAIN: Final = 100.0
#: Rides with less moving time than this are short, s; what each step that was found costs, ln odds.
_SHORT_S: Final = 30.0
_STEP_COST: Final = 3.0
#: Share of the moving samples that must lie in gears: stepped gearboxes show 0.8 and more, belt drives up to 0.61.
_LEAST_IN_GEAR: Final = 0.7


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
    return none_found(states, gone, found.shift, reason, np.empty(0))


def _by_samples(states: Sequence[State]) -> TimedFit:
    """Fit without a ladder: the steps are sought in the samples."""
    observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
    steps = find_steps(observed)
    if steps.reason:
        return none_found(states, observed, None, steps.reason, np.empty(0))
    found = settle(states, observed, steps.centres, None)
    observed, paths, sd, centres = found
    path = np.concatenate(paths)
    time_s = np.concatenate([o.seconds for o in observed])
    seconds = np.bincount(path + 1, time_s, minlength=centres.size + 1)[1:].astype(np.float64)
    sure = surely_ridden(observed, paths, sd, centres.size) & ~idling(observed, paths, centres.size)
    sure[sure] = ~without_room(centres[sure], seconds[sure])
    doubtful = centres[~sure & (seconds > 0)]
    share = float(np.mean(path >= 0))
    if share < _LEAST_IN_GEAR:
        return none_found(states, observed, None, _elsewhere_text(share), doubtful)
    return finished(states, _in_line(found, sure), None, doubtful)


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
    found = settle(states, observed, steps, None)
    brief = _only_brief(found)
    seen = np.bincount(np.concatenate(found.paths) + 1, minlength=steps.size + 1)[1:] > 0
    sure = seen & ~brief
    sure[sure] = ~without_room(found.centres[sure], np.ones(int(sure.sum())))
    return replace(finished(states, _in_line(found, sure), None, found.centres[~sure]), by_runs=True)


def _seen_text(steps: int) -> str:
    return (
        f"{steps} steps are seen, too briefly to be sure of: state the gearbox, or use each gear twice and hold it for "
        "ten seconds"
    )


def _in_line(found: Settled, sure: NDArray[np.bool_]) -> Settled:
    """Keep the sure steps, with a place among them for a gear that was skipped."""
    centres = found.centres[sure]
    paths = [renumbered(path, sure) for path in found.paths]
    if not centres.size:
        return found._replace(paths=paths, centres=centres)
    place_of, whole = filled(centres)
    paths = [np.where(path >= 0, place_of[np.clip(path, 0, None)], -1) for path in paths]
    return found._replace(paths=paths, centres=whole)


def _by_ladder(states: Sequence[State], ladder: Ladder, placed: LadderFit | None) -> TimedFit:
    """Fit with a ladder, placed here or beforehand."""
    observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
    if not any(o.log_ratio.size for o in observed):
        return none_found(states, observed, None, too_few_text(0), np.empty(0))
    shift = placed or _place(observed, ladder)
    stated = ladder.log_ratio if ladder.origin == "tooth counts" else None
    found = settle(states, observed, ladder.log_ratio + shift.shift, stated)
    if placed is None:
        return finished(states, found, shift, np.empty(0))
    brief = _only_brief(found)
    paths = [np.where(brief[path] & (path >= 0), -1, path) for path in found.paths]
    return finished(states, found._replace(paths=paths), shift, found.centres[brief], by_starts=True)


def _only_brief(found: Settled) -> NDArray[np.bool_]:
    """Mark the gears of which a short ride shows nothing but the ends of passages, where the clutch still slips."""
    seen, away = np.zeros((2, found.centres.size), dtype=bool)
    for o, path in zip(found.observed, found.paths, strict=True):
        seen[path[path >= 0]] = True
        away[path[away_from_shifts(o.time_s, passages(o.time_s, path))]] = True
    return np.asarray(seen & ~away)


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
