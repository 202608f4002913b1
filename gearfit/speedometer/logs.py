"""Pairs out of timed logs: what the instrument showed beside what the receiver measured, once the lag is taken out.

Display and needle follow the road speed late and damped, the receiver with a delay of its own. What counts is the
difference: delay and damping (a first-order lag of the instrument) are sought on a grid, and both are corrected within
the line fit (`line`), so that their uncertainty is in its intervals. A pure delay would not do: damping cuts peaks of
speed and fills dips, which looks like a smaller gain. The receiver's speeds are put through the same lag as the needle,
never the other way round: to smooth what was shown would make any damping look right, as it takes the steps out.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from gearfit.records.recording import INSTRUMENTS, Recording
from gearfit.speedometer.pairs import FloatArray, IntArray, Pairs

#: Slower than this nothing is compared: standing, and the dead zone of most instruments, m/s.
SLOWEST_MPS: Final = 2.5
#: Rows at which timing is sought, at most.
_MOST_ROWS: Final = 10_000
#: Lags tried, s: the instrument may be ahead of a slow receiver, or far behind it.
_LAGS_S: Final = np.round(np.arange(-2.0, 3.01, 0.1), 3)
#: Step of damping by which its effect is told, s.
_MORE_S: Final = 0.1
#: Lags tried about the best one once damping is taken off, s.
_NEAR_S: Final = np.array([-0.45, -0.3, -0.15, 0.0, 0.15, 0.3, 0.45])
#: Time constants of the instrument's damping tried, s.
_DAMPINGS_S: Final = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.4)
#: Time between pairs, s.
_EVERY_S: Final = 0.3
#: Least standard error of what is shown, steps aside, m/s.
_LEAST_SD_MPS: Final = 0.02
#: A passage ends after this time once the indication has moved by this many steps, s.
_PASSAGE_S, _PASSAGE_STEPS = 20.0, 2.0
#: Receiver speeds are not interpolated over longer gaps, s.
_GAP_S: Final = 1.6
#: Standard error of a receiver's speed, m/s.
RECEIVER_SD_MPS: Final = 0.1
#: What delay and damping do not explain, s: adds this times the acceleration to the error.
_TIMING_SD_S: Final = 0.15
#: Below this spread of accelerations the lag is not sought, m/s^2.
LEAST_RATE_MPS2: Final = 0.08


def has_both(recording: Recording) -> bool:
    """Whether a log holds shown and true speeds."""
    samples = recording.samples
    return (
        recording.kind in ("log", "track")
        and recording.speed_source not in (*INSTRUMENTS, "none")
        and bool(samples["indicated_mps"].notna().any() and samples["speed_mps"].notna().any())
    )


def log_pairs(shown: Recording, true: Recording) -> tuple[Pairs, float] | str:
    """Make the pairs of one log, or of a log with a track on the same clock.

    Parameters
    ----------
    shown : Recording
        Holds the indicated speeds.
    true : Recording
        Holds the measured speeds; may be the same.

    Returns
    -------
    (Pairs, lag_s) or str
        The pairs with how far the instrument is behind the receiver; or why there are none.
    """
    shift_s = 0.0 if shown is true else _clock_shift_s(shown, true)
    if shift_s is None:
        return f"{shown.file} and {true.file} keep different clocks, so shown and measured speeds cannot be paired"
    t_true, v = _measured(true, shift_s)
    samples = shown.samples
    rows = np.flatnonzero(samples["indicated_mps"].notna().to_numpy() & samples["time_s"].notna().to_numpy())
    t_shown, y = samples["time_s"].to_numpy()[rows], samples["indicated_mps"].to_numpy()[rows]
    if t_true.size < 3 or rows.size < 3:
        return f"{shown.file} holds too few speeds to pair"
    step_mps = display_step_mps(y)
    lag_s, damping_s = _timing(t_shown, y, t_true, v)
    more = _damped(t_true, v, damping_s + _MORE_S)
    v = _damped(t_true, v, damping_s)
    rate = np.gradient(v, t_true)
    x, a = _at(t_shown - lag_s, t_true, v), _at(t_shown - lag_s, t_true, rate)
    curl = (_at(t_shown - lag_s + _MORE_S, t_true, more) - x) / _MORE_S
    keep = np.isfinite(x) & np.isfinite(curl) & (x > SLOWEST_MPS)
    if not keep.any():
        return f"{shown.file} and {true.file} hold no speeds of the same moment above walking pace"
    row = samples["row"].to_numpy()[rows]
    pairs = _samples(shown.file, row[keep], t_shown[keep], x[keep], y[keep], a[keep], curl[keep], step_mps)
    return pairs, lag_s + damping_s


def display_step_mps(shown_mps: FloatArray) -> float:
    """Smallest step between the values that an instrument showed (0 where fine)."""
    steps = np.diff(np.unique(shown_mps))
    return float(steps[steps > 1e-3].min()) if (steps > 1e-3).any() else 0.0


def clocks_meet(one: Recording, other: Recording) -> bool:
    """Whether two recordings keep the same clock and overlap."""
    shift_s = _clock_shift_s(one, other)
    if shift_s is None or not len(one.samples) or not len(other.samples):
        return False
    ours, theirs = one.samples["time_s"], other.samples["time_s"] + shift_s
    return bool(min(ours.iloc[-1], theirs.iloc[-1]) > max(ours.iloc[0], theirs.iloc[0]))


def _clock_shift_s(shown: Recording, true: Recording) -> float | None:
    """Return what to add to the times of `true` for those of `shown`; None where the clocks do not tell."""
    if shown.clock != true.clock or shown.clock in ("elapsed", "none"):
        return None
    return None if shown.start_s is None or true.start_s is None else true.start_s - shown.start_s


def _measured(true: Recording, shift_s: float) -> tuple[FloatArray, FloatArray]:
    samples = true.samples
    keep = (samples["speed_mps"].notna() & samples["speed_fresh"] & ~samples["time_s"].duplicated()).to_numpy()
    return samples["time_s"].to_numpy()[keep] + shift_s, samples["speed_mps"].to_numpy()[keep]


def _at(moments_s: FloatArray, time_s: FloatArray, values: FloatArray) -> FloatArray:
    """Interpolate; NaN outside and within long gaps."""
    found = np.interp(moments_s, time_s, values, left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(time_s, moments_s), 1, time_s.size - 1)
    return np.where(time_s[after] - time_s[after - 1] <= _GAP_S, found, np.nan)


def _timing(t_shown: FloatArray, y: FloatArray, t_true: FloatArray, v: FloatArray) -> tuple[float, float]:
    """Delay and damping with the least scatter about a straight line; 0, 0 where the ride is too steady to tell."""
    moving = v > SLOWEST_MPS
    if not moving.any() or float(np.std(np.gradient(v, t_true)[moving])) < LEAST_RATE_MPS2:
        return 0.0, 0.0
    every = 1 + t_shown.size // _MOST_ROWS
    t_shown, y = t_shown[::every], y[::every]
    _, whole_s = _best(_LAGS_S, t_shown, y, t_true, v)
    found = []
    for damping_s in _DAMPINGS_S:
        near = whole_s - damping_s + _NEAR_S
        found.append((*_best(near, t_shown, y, t_true, _damped(t_true, v, damping_s)), damping_s))
    _, lag_s, damping_s = min(found)
    return lag_s, damping_s


def _best(
    lags_s: FloatArray, t_shown: FloatArray, y: FloatArray, t_true: FloatArray, v: FloatArray
) -> tuple[float, float]:
    """Least loss over some lags and where it lies, by the parabola through the three lowest."""
    losses = np.array([_loss(_at(t_shown - lag, t_true, v), y) for lag in lags_s])
    best = int(np.argmin(losses))
    lag_s, loss = float(lags_s[best]), float(losses[best])
    if 0 < best < losses.size - 1 and np.isfinite(losses[best - 1 : best + 2]).all():
        left, middle, right = losses[best - 1 : best + 2]
        bend = left - 2 * middle + right
        if bend > 0:
            lag_s += 0.5 * float((left - right) / bend) * float(lags_s[1] - lags_s[0])
            loss -= float((left - right) ** 2 / bend) / 8
    return loss, lag_s


def _damped(time_s: FloatArray, values: FloatArray, damping_s: float) -> FloatArray:
    """First-order lag of a series that is straight between its points, started anew after gaps; none below 0."""
    if damping_s <= 0:
        return values
    result = values.copy()
    step_s = np.diff(time_s)
    keep = np.exp(-step_s / damping_s)
    behind = np.where(step_s > 0, np.diff(values) / np.where(step_s > 0, step_s, 1.0), 0.0) * damping_s
    for k in range(1, values.size):
        if step_s[k - 1] <= _GAP_S:
            result[k] = values[k] - behind[k - 1] + (result[k - 1] - values[k - 1] + behind[k - 1]) * keep[k - 1]
    return result


def _loss(x: FloatArray, y: FloatArray) -> float:
    keep = np.isfinite(x) & (x > SLOWEST_MPS)
    if keep.sum() < 3 or np.ptp(x[keep]) == 0:
        return float("inf")
    x, y = x[keep], y[keep]
    for _ in range(2):
        slope, offset = np.polyfit(x, y, 1)
        residual = y - offset - slope * x
        limit = 3 * 1.4826 * float(np.median(np.abs(residual))) + 1e-9
        y = offset + slope * x + np.clip(residual, -limit, limit)
    return float(np.mean((y - offset - slope * x) ** 2))


def _samples(
    file: str,
    row: IntArray,
    time_s: FloatArray,
    x: FloatArray,
    y: FloatArray,
    rate: FloatArray,
    curl: FloatArray,
    step_mps: float,
) -> Pairs:
    """Take one pair every half second and number the passages."""
    _, pick = np.unique(np.floor(time_s / _EVERY_S), return_index=True)
    n = pick.size
    return Pairs(
        true_mps=x[pick],
        shown_mps=y[pick],
        true_sd_mps=np.full(n, RECEIVER_SD_MPS),
        shown_sd_mps=np.hypot(_LEAST_SD_MPS, _TIMING_SD_S * np.abs(rate[pick])),
        rate_mps2=rate[pick],
        damping_mps2=curl[pick],
        timed=np.zeros(n, dtype=np.int64),
        unit=_passages(time_s[pick], y[pick], step_mps),
        common=np.zeros(n),
        file=np.full(n, file, dtype=object),
        row=row[pick],
        step_mps=np.full(n, step_mps),
    )


def _passages(time_s: FloatArray, shown_mps: FloatArray, step_mps: float) -> IntArray:
    """Give numbers to stretches of at least 20 s; a speed held for long stays one, as its errors are the same."""
    number, start, at = 0, time_s[0], shown_mps[0]
    numbers = np.empty(time_s.size, dtype=np.int64)
    for k in range(time_s.size):
        moved = abs(shown_mps[k] - at) >= _PASSAGE_STEPS * step_mps
        if time_s[k] - start >= _PASSAGE_S and moved:
            number, start, at = number + 1, time_s[k], shown_mps[k]
        numbers[k] = number
    return numbers


def partner(shown: Recording, recordings: Sequence[Recording]) -> Recording | None:
    """Find a recording of measured speeds on the same clock; None where there is none."""
    return next(
        (
            other
            for other in recordings
            if other is not shown
            and other.kind in ("track", "log")
            and other.speed_source not in (*INSTRUMENTS, "none")
            and other.samples["speed_mps"].notna().any()
            and clocks_meet(shown, other)
        ),
        None,
    )
