"""Pairs out of sheets: both speeds read, or the shown speed with a track, with fitted ratios, or with tooth counts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.bike import Bike, Setup
from gearfit.fitting.levels import Levels
from gearfit.fitting.plateaus import find_plateaus
from gearfit.fitting.speedometer.logs import RECEIVER_SD_MPS
from gearfit.fitting.speedometer.match import FEWEST_ROWS, match_in_order
from gearfit.fitting.speedometer.pairs import Pairs, sheet_pairs
from gearfit.recording import Recording
from gearfit.units import SECONDS_PER_MINUTE, SPEED_UNIT_LABELS, SPEED_UNITS_MPS

FloatArray = NDArray[np.float64]

#: How well a rider reads a needle or catches a display, resolution aside, m/s (our assumption, no source).
READING_SD_MPS: Final = 0.15
#: Distinct values from which multiples of five are no accident (1 in 625).
_DISTINCT_FOR_COARSE: Final = 4
#: How true the scale of a tachometer is taken to be where nothing checks it (our assumption, no source).
TACHOMETER_SD: Final = 0.01


def read_both(recording: Recording) -> Pairs | None:
    """Pairs of a sheet with shown and measured speeds; None where no row has both."""
    table = recording.samples
    rows = np.flatnonzero((table["indicated_mps"].notna() & table["speed_mps"].notna()).to_numpy())
    if rows.size == 0:
        return None
    part = table.iloc[rows]
    true_sd = np.fmax(np.nan_to_num(part["speed_sd_mps"].to_numpy()), 0.01)
    return _pairs(recording, part, part["speed_mps"].to_numpy(), np.hypot(true_sd, RECEIVER_SD_MPS))


def shown_in_gear(recording: Recording, bike: Bike, setup: Setup, levels: Levels | None, logged: bool) -> Pairs | str:
    """Pairs of a sheet of shown speeds at an engine speed held in a stated gear: the gearing gives the true speed.

    Parameters
    ----------
    recording : Recording
        The sheet.
    bike, setup : Bike, Setup
        For tooth counts and circumference where the samples gave no levels.
    levels : Levels or None
        ln(n/v) from measured speeds of this setup.
    logged : bool
        Those levels rest on an engine speed of a log, which the tachometer on the dash may not agree with.

    Returns
    -------
    Pairs or str
        Or why there are none.
    """
    table = recording.samples
    usable = table["indicated_mps"].notna() & table["engine_rpm"].notna() & table["stated_gear"].notna()
    part = table[usable]
    if part.empty:
        return f"{recording.file} notes shown speeds alone: add measured speeds, or the gear of each row"
    gear = part["stated_gear"].to_numpy().astype(np.int64)
    if levels is not None:
        level, level_sd = _from_levels(levels, gear)
        common = float(np.hypot(level_sd, TACHOMETER_SD if logged else 0.0))
    else:
        nominal_m, sd_m = setup.tyre.nominal_circumference_m, setup.tyre.nominal_circumference_sd_m
        overall = bike.overall_ratios(setup)
        if nominal_m is None or sd_m is None or overall is None:
            return (
                f"{recording.file} notes shown speeds with engine speeds, but neither measured speeds nor tooth counts "
                "with a rolling circumference say how fast that is"
            )
        ratio = np.array([overall[g - 1] if g <= len(overall) else np.nan for g in gear])
        level = np.log(SECONDS_PER_MINUTE * ratio / nominal_m)
        common = float(np.hypot(sd_m / nominal_m, TACHOMETER_SD))
    known = np.isfinite(level)
    if not known.any():
        return f"{recording.file} notes gears that are not known"
    part, level = part[known], level[known]
    rpm = part["engine_rpm"].to_numpy()
    true = rpm / np.exp(level)
    held = np.fmax(np.nan_to_num(part["rpm_sd_rpm"].to_numpy()), 0.002 * rpm) / rpm
    return _pairs(recording, part, true, true * held, common)


def shown_on_track(recording: Recording, tracks: Sequence[Recording]) -> Pairs | str:
    """Pairs of a sheet of shown speeds whose rows are held speeds of a track, in order; or why there are none."""
    part = recording.samples[recording.samples["indicated_mps"].notna()]
    if len(part) < FEWEST_ROWS:
        return (
            f"{recording.file} has too few rows to be matched with held speeds of a track ({FEWEST_ROWS} are the least)"
        )
    held = np.concatenate([_plateaus(track) for track in tracks])
    true = match_in_order(part["indicated_mps"].to_numpy(), held)
    if true is None:
        return (
            f"{recording.file} cannot be matched with the {held.size} held speeds of the track in one way only: hold "
            "each speed for ten seconds, note them in the order ridden, and note the receiver's speed beside them"
        )
    return _pairs(recording, part, true, np.full(true.size, RECEIVER_SD_MPS))


def _plateaus(track: Recording) -> FloatArray:
    samples = track.samples
    keep = (samples["speed_mps"].notna() & samples["speed_fresh"]).to_numpy()
    return find_plateaus(samples["time_s"].to_numpy()[keep], samples["speed_mps"].to_numpy()[keep]).speed_mps


def _from_levels(levels: Levels, gear: NDArray[np.int64]) -> tuple[FloatArray, float]:
    """ln(n/v) of each row's gear (NaN unknown) and the standard error that all share."""
    at = np.clip(np.searchsorted(levels.gear, gear), 0, levels.gear.size - 1)
    known = levels.gear[at] == gear
    sd = np.sqrt(np.diag(levels.covariance))
    return np.where(known, levels.log_ratio[at], np.nan), float(np.max(sd[at[known]], initial=0.0))


def _reading_step_mps(recording: Recording, shown_mps: FloatArray) -> float:
    """Step to which a person read the instrument, in the unit of its column; 0 where finer than a hundredth."""
    label = next((column.unit for column in recording.columns if column.channel == "indicated_mps"), "")
    unit_mps = next((SPEED_UNITS_MPS[key] for key, text in SPEED_UNIT_LABELS.items() if text == label), 1.0)
    written = np.unique(np.round(shown_mps / unit_mps, 6))
    coarse = (5.0,) if written.size >= _DISTINCT_FOR_COARSE else ()
    for step in (*coarse, 1.0, 0.5, 0.1, 0.01):
        if np.all(np.abs(written / step - np.rint(written / step)) < 1e-3):
            return float(step * unit_mps)
    return 0.0


def _pairs(
    recording: Recording, part: pd.DataFrame, true: FloatArray, true_sd: FloatArray, common: float = 0.0
) -> Pairs:
    shown = part["indicated_mps"].to_numpy()
    step = _reading_step_mps(recording, shown)
    sd = np.full(shown.size, READING_SD_MPS)
    return sheet_pairs(recording.file, part["row"].to_numpy(), true, true_sd, shown, sd, step, common)
