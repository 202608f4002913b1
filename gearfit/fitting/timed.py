"""The fit of one setup's timed logs: lag, which gear when, and each gear's level, in turn until they agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.coarse_lag import coarse_lag
from gearfit.fitting.correlated import Noise
from gearfit.fitting.cut_speeds import cut_or_rounded, ladder_log_odds, without_prior
from gearfit.fitting.gear_path import most_likely_path, passages
from gearfit.fitting.joint import InGear, solve
from gearfit.fitting.known_ladder import LadderFit, fit_shift
from gearfit.fitting.ladder import Ladder
from gearfit.fitting.levels import Levels
from gearfit.fitting.noise import noise_of, scatter, white_share
from gearfit.fitting.observed import Observed, observe
from gearfit.fitting.passage import settled
from gearfit.fitting.ridden import renumbered, surely_ridden
from gearfit.fitting.streams import FAST_S, Stream
from gearfit.fitting.unknown_ladder import find_steps, not_stepped

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_LARGEST_LAG_S: Final = 2.0
#: What is believed of a lag before the fit, s: it decides only where the ride does not.
_PRIOR_LAG_SD_S: Final = 0.2
_ROUNDS: Final = 6
#: ... or until no lag moves by more than this, s.
_STILL_S: Final = 0.001
#: Speeds written in steps at least this coarse, m/s, are checked for being cut down instead of rounded.
_COARSE_STEP_MPS: Final = 0.1
#: Slack of a sample about its gear while gears are assigned, ln ratio (drive slip, uneven teeth, chain).
_SLACK: Final = 0.004
#: A gear's level follows its samples once it has this many.
_FOLLOW: Final = 8
#: A lag counts as found when its standard error is below this share of that.
_LAG_KNOWN: Final = 0.5
#: Samples farther than this many standard errors from their gear's centre are not used for its level.
_WILD_SD: Final = 4.0
#: Noise taken for granted where fewer than 30 samples are in gear (a receiver on an open road; our assumption).
_FEW_WHITE_MPS: Final = 0.05
_FEW_CORRELATED_MPS: Final = 0.1
_FEW_CORRELATION_S: Final = 1.5
_FEW_RELATIVE: Final = 0.003
#: Share of the moving samples that must lie in gears: stepped gearboxes show 0.8 and more, belt drives up to 0.61.
_LEAST_IN_GEAR: Final = 0.7
#: Time over which samples count as one observation when ladders are compared, s.
_INDEPENDENT_S: Final = 2.0


@dataclass(frozen=True, eq=False)
class StreamFit:
    """What was found for one stream: lag and speed offset with their standard errors, noise, gear per sample.

    `noise` is None where no sample was in gear.
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
    """

    streams: tuple[StreamFit, ...]
    levels: Levels | None
    centres: FloatArray
    shift: LadderFit | None
    reason: str
    doubtful: FloatArray


@dataclass
class _State:
    """Where the fit of one stream stands: lag and offset taken out, and the spread of what the offset may be."""

    stream: Stream
    lag_s: float
    rpm_share: float
    lag_se_s: float = _PRIOR_LAG_SD_S
    offset_mps: float = 0.0
    offset_sd_mps: float = 0.0
    noise: Noise | None = None


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
        return TimedFit(fits, None, np.empty(0), None, reason, np.empty(0))
    stated = ladder.log_ratio if ladder is not None and ladder.origin == "tooth counts" else None
    sd = [np.hypot(o.log_ratio_sd, _SLACK) for o in observed]
    for _ in range(_ROUNDS):
        paths = [most_likely_path(o.time_s, o.log_ratio, s, centres) for o, s in zip(observed, sd, strict=True)]
        centres = _follow(observed, paths, sd, centres)
        moved_s = _improve(states, observed, paths, sd, centres, stated)
        observed = [observe(s.stream, s.lag_s, s.offset_mps) for s in states]
        sd = _standard_errors(observed, centres)
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
    if share < _LEAST_IN_GEAR:
        fits = tuple(_stream_fit(s, o, np.full(o.index.size, -1)) for s, o in zip(states, observed, strict=True))
        return TimedFit(fits, None, np.empty(0), shift, _elsewhere_text(share), doubtful)
    levels = _levels(states, observed, paths, sd, centres) if centres.size else None
    fits = tuple(_stream_fit(s, o, path) for s, o, path in zip(states, observed, paths, strict=True))
    reason = "" if levels is not None else "no passage in any gear was found"
    return TimedFit(fits, levels, centres, shift, reason, doubtful)


def _elsewhere_text(share: float) -> str:
    return (
        f"only {100 * share:.0f} % of the moving samples lie at the ratios of gears "
        f"(at least {100 * _LEAST_IN_GEAR:.0f} % would show gears): an automatic or a belt drive, much clutch work, "
        "other ratios than stated, or the two channels do not belong together"
    )


def _start(stream: Stream) -> _State:
    state = _State(stream, coarse_lag(stream), _rpm_share(stream))
    if stream.speed_step_mps >= _COARSE_STEP_MPS:
        state.offset_mps = state.offset_sd_mps = stream.speed_step_mps / 4
    return state


def _rpm_share(stream: Stream) -> float:
    """White noise of the engine speed as recorded; of slow channels, which nobody smooths, the ratios show it all."""
    fast = stream.rpm_time_s.size > 1 and float(np.median(np.diff(stream.rpm_time_s))) <= FAST_S
    return white_share(stream.engine_rpm, stream.rpm_sd_rpm) if fast else 0.0


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


def _in_gear(
    states: Sequence[_State],
    observed: Sequence[Observed],
    paths: Sequence[IntArray],
    sd: Sequence[FloatArray],
    centres: FloatArray,
) -> tuple[list[_State], list[InGear]]:
    """Collect each stream's samples in gear, away from shifts and not wild; streams without any are left out."""
    kept_states, kept = [], []
    for state, o, path, s in zip(states, observed, paths, sd, strict=True):
        number = passages(o.time_s, path)
        level = centres[np.clip(path, 0, None)]
        use = settled(o.time_s, path, number) & np.isfinite(o.rpm_rate) & (np.abs(o.log_ratio - level) < _WILD_SD * s)
        if not use.any():
            continue
        speed = o.engine_rpm[use] * np.exp(-level[use])
        residual = o.log_ratio[use] - level[use]
        noise = noise_of(o.time_s[use], residual, speed, state.rpm_share) or _usual_noise(residual, speed)
        bias = 0.5 * (noise.variance(speed) - noise.relative**2)
        kept_states.append(state)
        kept.append(
            InGear(o.time_s[use], speed, o.log_ratio[use] - bias, o.rpm_rate[use], path[use], number[use], noise)
        )
    return kept_states, kept


def _usual_noise(residual: FloatArray, speed_mps: FloatArray) -> Noise:
    """Noise of a stream with few samples in gear: what they show, but no less than is usual for a receiver."""
    found = float(np.sqrt(np.mean((residual * speed_mps) ** 2)))
    return Noise(_FEW_WHITE_MPS, max(found, _FEW_CORRELATED_MPS), _FEW_CORRELATION_S, _FEW_RELATIVE)


def _improve(
    states: Sequence[_State],
    observed: Sequence[Observed],
    paths: Sequence[IntArray],
    sd: Sequence[FloatArray],
    centres: FloatArray,
    stated: FloatArray | None,
) -> float:
    """Take one step towards each stream's lag, and weigh whether its coarse speeds were cut down or rounded.

    `stated` is the ladder of the tooth counts, ln ratio.

    Returns the longest step, s.
    """
    active, samples = _in_gear(states, observed, paths, sd, centres)
    if not samples:
        return 0.0
    steps = [state.stream.speed_step_mps for state in active]
    open_priors = [
        (step / 4 - state.offset_mps, step / 3) if step >= _COARSE_STEP_MPS else (0.0, 0.0)
        for step, state in zip(steps, active, strict=True)
    ]
    lags_s, now = np.array([s.lag_s for s in active]), [s.offset_mps for s in active]
    found = solve(samples, lags_s, _PRIOR_LAG_SD_S, open_priors)
    offsets: list[tuple[float, float]] = []
    for i, state in enumerate(active):
        state.lag_s = float(np.clip(state.lag_s + found.lag_s[i], -_LARGEST_LAG_S, _LARGEST_LAG_S))
        if steps[i] >= _COARSE_STEP_MPS:
            measured, se = without_prior(
                now[i] + found.offset_mps[i], found.offset_se_mps[i], steps[i] / 4, steps[i] / 3
            )
            beside = 0.0
            if stated is not None:
                moves = (-now[i], steps[i] / 2 - now[i])
                beside = ladder_log_odds(samples, lags_s, _PRIOR_LAG_SD_S, open_priors, i, moves, stated)
            offsets.append(cut_or_rounded(measured, se, steps[i] / 2, beside))
        else:
            offsets.append((state.offset_mps, state.offset_sd_mps))
    for state, (offset, spread) in zip(active, offsets, strict=True):
        state.offset_mps, state.offset_sd_mps = offset, spread
    return float(np.max(np.abs(found.lag_s)))


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


def _levels(
    states: Sequence[_State],
    observed: Sequence[Observed],
    paths: Sequence[IntArray],
    sd: Sequence[FloatArray],
    centres: FloatArray,
) -> Levels | None:
    """Find the levels of all gears, and the last touch to each lag."""
    active, samples = _in_gear(states, observed, paths, sd, centres)
    if not samples:
        return None
    lags = np.array([s.lag_s for s in active])
    found = solve(samples, lags, _PRIOR_LAG_SD_S, [(0.0, s.offset_sd_mps) for s in active])
    for i, state in enumerate(active):
        state.noise = samples[i].noise
        state.lag_s, state.lag_se_s = float(state.lag_s + found.lag_s[i]), float(found.lag_se_s[i])
    path = np.concatenate(paths)
    counts = np.bincount(path[path >= 0], minlength=centres.size)
    return Levels(found.gear + 1, found.level, found.covariance, found.dof, counts[found.gear], found.passages)


def _stream_fit(state: _State, o: Observed, path: IntArray) -> StreamFit:
    known = state.lag_se_s < _LAG_KNOWN * _PRIOR_LAG_SD_S
    return StreamFit(
        state.stream, state.lag_s, state.lag_se_s, known, state.offset_mps, state.offset_sd_mps, state.noise, o, path
    )
