"""To which step speeds were really read, and whether they were cut to it instead of rounded.

Speeds that are all multiples of five were read to five, or they were targets that the rider held, as may be where there
are fewer of them than of engine speeds. And a display may cut what it shows to the step below. Each supposition changes
what the readings are and how far they may scatter; how well they then lie on one ladder, or move by one factor between
setups, decides (Bayes' rule, restricted likelihood).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.readings.reading import (
    INSTRUMENT_OFFSET_MPS,
    Readings,
    SpeedSteps,
    by_setup_and_gear,
    corrected,
    shared_errors,
)
from gearfit.fitting.readings.row_scatter import fit_scatter
from gearfit.importers.sheet.reader import COARSE_UNITS, DISTINCT_FOR_COARSE, SHARE_OF_FIVES
from gearfit.units import MPS_PER_KMH, MPS_PER_MPH

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: How many riders cut what they read to the step below, or have a display that does (our assumption).
_CUT_SHARE: Final = 0.25
#: Steps above this, m/s, are five units (one mile an hour is 0.45), which may have been targets: then the speeds were
#: read to this share of the step, one unit.
_COARSE_MPS: Final = 0.5
_FINER: Final = 0.2
#: Steps finer than whole kilometres an hour (0.278) do no harm when they are cut, m/s.
_HARMLESS_MPS: Final = 0.25


def read_to_five(readings: Readings) -> Readings:
    """Widen the steps of speeds written to whole units that are multiples of five in all sheets together.

    One sheet may hold too few different ones to show it.
    """
    step, sd = readings.speed_step_mps.copy(), readings.speed_sd_mps.copy()
    for unit in (MPS_PER_KMH, MPS_PER_MPH):
        rows = readings.held & np.isclose(step, unit)
        whole = rows | (readings.held & np.isclose(step, COARSE_UNITS * unit))
        written = np.unique(np.rint(readings.speed_mps[whole] / unit))
        if written.size >= DISTINCT_FOR_COARSE and np.mean(written % COARSE_UNITS == 0) >= SHARE_OF_FIVES:
            step[rows], sd[rows] = COARSE_UNITS * step[rows], COARSE_UNITS * sd[rows]
    return replace(readings, speed_step_mps=step, speed_sd_mps=sd)


def instrument_groups(readings: Readings) -> IntArray:
    """Group the readings by kind of instrument and step, (n,) int; all that share a number share errors."""
    steps = np.round(np.nan_to_num(readings.speed_step_mps), 6)
    kinds = np.column_stack([steps, readings.indicated, readings.held])
    _, group = np.unique(kinds, axis=0, return_inverse=True)
    return np.asarray(group.ravel(), dtype=np.int64)


def find_steps(readings: Readings, group: IntArray, odd: FloatArray, *, with_teeth: bool) -> tuple[SpeedSteps, ...]:
    """Find, one group after the other, what is most likely true of its speeds.

    Parameters
    ----------
    readings : Readings
        All of them.
    group : (n,) int
        As `instrument_groups`.
    odd : (n, k) float
        Columns of what is explained away (misread rows).
    with_teeth : bool
        Whether the tooth counts count.
    """
    found = usual_steps(readings, group)
    for g in range(len(found)):
        rows = group == g
        step = float(np.nan_to_num(readings.speed_step_mps[rows][0]))
        if step < _HARMLESS_MPS or not readings.held[rows].all():
            continue
        cut_known = bool(readings.indicated[rows].any())
        shares = (1.0, _FINER) if step > _COARSE_MPS and _speeds_held(readings, rows) else (1.0,)
        log_odds: dict[tuple[float, bool], float] = {}
        for share, cut in product(shares, (False,) if cut_known else (False, True)):
            supposed = SpeedSteps(share, share * step / 2 if cut else 0.0, 0.0)
            tried = (*found[:g], supposed if not cut_known else _with_share(found[g], share), *found[g + 1 :])
            read = corrected(readings, group, tried)
            shared = shared_errors(readings, group, tried)
            model = by_setup_and_gear(readings, read.values, read.variance, shared, with_teeth=with_teeth).with_columns(
                odd
            )
            prior = 0.0 if cut_known else float(np.log(_CUT_SHARE if cut else 1 - _CUT_SHARE))
            log_odds[share, cut] = fit_scatter(model).log_evidence + prior
        best_share = max(log_odds, key=lambda key: log_odds[key])[0]
        decided = _with_share(found[g], best_share) if cut_known else _weighed(step, best_share, log_odds)
        found = (*found[:g], decided, *found[g + 1 :])
    return found


def _speeds_held(readings: Readings, rows: BoolArray) -> bool:
    """Tell whether road speeds were the target: then there are fewer of them than of engine speeds."""
    return np.unique(readings.speed_mps[rows]).size <= np.unique(readings.engine_rpm[rows]).size


def usual_steps(readings: Readings, group: IntArray) -> tuple[SpeedSteps, ...]:
    """Return what is supposed before the readings are looked at.

    A speedometer's offset is open, and by half a step more where it may have been cut to the step.
    """
    mean, sd = INSTRUMENT_OFFSET_MPS
    found = []
    for g in range(int(group.max()) + 1):
        rows = group == g
        if not readings.indicated[rows].any():
            found.append(SpeedSteps())
            continue
        half_step = float(np.nan_to_num(readings.speed_step_mps[rows][0])) / 2
        found.append(SpeedSteps(1.0, -mean, float(np.hypot(sd, np.sqrt(_CUT_SHARE) * half_step))))
    return tuple(found)


def _with_share(steps: SpeedSteps, share: float) -> SpeedSteps:
    return SpeedSteps(share, steps.offset_mps, steps.offset_sd_mps)


def _weighed(step: float, share: float, log_odds: dict[tuple[float, bool], float]) -> SpeedSteps:
    """Take the more likely of cut and rounded, and count the other as an error that all readings share.

    The readings stay as they were written unless cutting is the more likely: a rider who checks by hand finds them.
    """
    half = share * step / 2
    cut = 1 / (1 + float(np.exp(np.clip(log_odds[share, False] - log_odds[share, True], -50, 50))))
    if cut < 0.5:
        return SpeedSteps(share, 0.0, half * float(np.sqrt(cut)))
    return SpeedSteps(share, half, half * float(np.sqrt(1 - cut)))
