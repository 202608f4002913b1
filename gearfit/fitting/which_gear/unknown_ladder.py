"""Finds the steps of a gearbox in the samples alone, or says that there are none.

Two marks of a stepped gearbox are asked for. The ratio stays put *while the speed changes* (with a belt that varies,
or a slipping converter, it moves instead), and the riding time crowds at a few ratios with valleys between.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.density import smooth_density, value_grid
from gearfit.fitting.pairing.observed import Observed

FloatArray = NDArray[np.float64]

#: A change of speed worth looking at: this rate, 1/s, and this many standard errors.
_CHANGE_RATE: Final = 0.02
_CHANGE_SD: Final = 4.0
#: Time of change that is enough to judge by, s.
_ENOUGH_CHANGE_S: Final = 20.0
#: The ratio counts as standing still when it moves by less than this share of the speed's own change.
_STILL_SHARE: Final = 0.35
#: Least share of the changing time in which the ratio must stand still.
LEAST_STILL: Final = 0.4
#: Steps closer than this (in ln ratio) are taken for one; the closest upper steps built are about 1.07.
_LEAST_STEP: Final = 0.05
#: A step needs this much riding time, s, and this share of all steady time.
_LEAST_S: Final = 1.5
_LEAST_SHARE: Final = 0.004
#: Density at a step against the valleys beside it.
_LEAST_CONTRAST: Final = 2.0
#: Least share of steady time that the steps must hold.
LEAST_COVERED: Final = 0.6
#: A normal variable is nearer to its mean than this many standard deviations in a quarter of cases.
_QUARTER_SD: Final = 0.3186
#: Samples needed to see the noise, and the most that is believed of it, m/s.
_LEAST_QUIET: Final = 50
_MOST_NOISE_MPS: Final = 0.5
#: Floor of the width with which samples are smeared, ln ratio.
_LEAST_WIDTH: Final = 0.004


@dataclass(frozen=True, eq=False)
class Steps:
    """Steps found, or why none.

    Attributes
    ----------
    centres : (G,) float
        ln(n/v) in descending order; empty where no stepped gearbox shows.
    still_share, covered_share : float
        The two marks: share of changing time with a steady ratio, share of steady time at the steps (NaN where
        there was nothing to judge).
    reason : str
        Empty where steps were found.
    """

    centres: FloatArray
    still_share: float
    covered_share: float
    reason: str


def find_steps(observed: Sequence[Observed]) -> Steps:
    """Search timed samples of one setup for the steps of a gearbox."""
    none = np.empty(0)
    log_ratio = np.concatenate([o.log_ratio for o in observed])
    if log_ratio.size < 20:
        return Steps(none, np.nan, np.nan, too_few_text(log_ratio.size))
    shown = [_noise(o) for o in observed]
    sd = np.sqrt(np.concatenate(shown) ** 2 + _LEAST_WIDTH**2)
    seconds = np.concatenate([o.seconds for o in observed])
    still = _still_share(observed, shown)
    with np.errstate(invalid="ignore"):
        steady = np.concatenate([np.abs(o.ratio_rate) * o.window_s for o in observed]) < 3 * np.sqrt(2) * sd
    if still < LEAST_STILL:
        return Steps(none, still, np.nan, _no_steps_text(still))
    if seconds[steady].sum() < 5:
        return Steps(none, still, np.nan, "the ratio of engine speed to speed never stands still for long")
    log_ratio, sd, seconds = log_ratio[steady], sd[steady], seconds[steady]
    grid = value_grid(log_ratio)
    density = smooth_density(log_ratio, sd, seconds, grid)
    order = np.argsort(log_ratio)
    width = np.interp(grid, log_ratio[order], sd[order])
    kept: list[float] = []
    counted = np.zeros(log_ratio.size, dtype=bool)
    for peak in _peaks(grid, density, width):
        near = ~counted & (np.abs(log_ratio - grid[peak]) < 3 * sd)
        if float(seconds[near].sum()) >= max(_LEAST_S, _LEAST_SHARE * float(seconds.sum())):
            kept.append(float(grid[peak]))
            counted |= near
    covered = float(seconds[counted].sum()) / float(seconds.sum())
    if covered < LEAST_COVERED or not kept:
        return Steps(none, still, covered, _not_covered_text(covered))
    return Steps(np.sort(np.array(kept))[::-1], still, covered, "")


def _still_share(observed: Sequence[Observed], shown: Sequence[FloatArray]) -> float:
    """Share of the time in which the speed changes that the ratio stands still; NaN below 5 s of change.

    A change counts above the noise that the samples show, unless that leaves too little to judge by: then above the
    noise as stated (a drive without steps looks noisy too).
    """
    for noises in (shown, [o.log_ratio_sd for o in observed]):
        changing_s = still_s = 0.0
        for o, noise in zip(observed, noises, strict=True):
            least = _CHANGE_SD * noise * np.sqrt(2) / o.window_s
            with np.errstate(invalid="ignore"):
                changing = np.abs(o.speed_rate) > np.maximum(_CHANGE_RATE, least)
                still = changing & (np.abs(o.ratio_rate) < _STILL_SHARE * np.abs(o.speed_rate))
            changing_s += float(o.seconds[changing].sum())
            still_s += float(o.seconds[still].sum())
        if changing_s >= _ENOUGH_CHANGE_S:
            break
    return still_s / changing_s if changing_s >= 5 else np.nan


def _noise(o: Observed) -> FloatArray:
    """Return the standard error of each ln ratio: as stated, or as the quiet quarter of the samples shows, if more.

    In gear the ratio changes across a window by noise alone. The quarter of samples in which speed times that change
    is least is in gear in any ride, and has a known place in Gauss's law.
    """
    change = np.abs(o.ratio_rate) * o.window_s * o.speed_mps
    change = change[np.isfinite(change)]
    if change.size < _LEAST_QUIET:
        return o.log_ratio_sd
    shown_mps = float(np.quantile(change, 0.25)) / (_QUARTER_SD * np.sqrt(2))
    shown: FloatArray = np.maximum(o.log_ratio_sd, min(shown_mps, _MOST_NOISE_MPS) / o.speed_mps)
    return shown


def _peaks(grid: FloatArray, density: FloatArray, width: FloatArray) -> list[int]:
    """Local maxima that stand `_LEAST_CONTRAST` above the valleys beside them, highest first, a step apart.

    `width` is the standard error usual at each ratio: valleys are looked for as far away as the peak is wide.
    """
    candidates = np.flatnonzero((density[1:-1] >= density[:-2]) & (density[1:-1] > density[2:])) + 1
    step = grid[1] - grid[0]
    taken: list[int] = []
    for peak in candidates[np.argsort(density[candidates])[::-1]]:
        apart = max(_LEAST_STEP, 2 * float(width[peak]))
        if any(abs(grid[peak] - grid[other]) < apart for other in taken):
            continue
        reach = int(max(_LEAST_STEP, 4 * float(width[peak])) / step)
        left = density[max(0, peak - reach) : peak + 1].min()
        right = density[peak : peak + reach + 1].min()
        if density[peak] >= _LEAST_CONTRAST * max(left, right):
            taken.append(int(peak))
    return taken


def too_few_text(moving: int) -> str:
    """Say that a ride has too few samples."""
    return f"{moving} moving samples are too few to find gears in"


def _no_steps_text(still: float) -> str:
    return (
        f"while the speed changes, the ratio of engine speed to speed stands still in {100 * still:.0f} % of the time "
        f"(at least {100 * LEAST_STILL:.0f} % would show gears): an automatic or a belt drive, or the two channels "
        "do not belong together"
    )


def _not_covered_text(covered: float) -> str:
    return (
        f"only {100 * covered:.0f} % of the steady riding lies at distinct ratios "
        f"(at least {100 * LEAST_COVERED:.0f} % would show gears): an automatic or a belt drive, much clutch work, "
        "or the two channels do not belong together"
    )
