"""Pairs out of sheets: both speeds read, or the shown speed with a track, with fitted ratios, or with tooth counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.fitting.held.plateaus import find_plateaus
from gearfit.fitting.ratios.levels import Levels
from gearfit.machine.bike import Bike, Setup
from gearfit.records.recording import Recording
from gearfit.speedometer.logs import RECEIVER_SD_MPS
from gearfit.speedometer.match import FEWEST_ROWS, match_in_order
from gearfit.speedometer.pairs import Pairs, sheet_pairs
from gearfit.units import SECONDS_PER_MINUTE, SPEED_UNIT_LABELS, SPEED_UNITS_MPS

FloatArray = NDArray[np.float64]

#: How well a rider reads a needle or catches a display, resolution aside, m/s (our assumption, no source).
READING_SD_MPS: Final = 0.15
#: Steps in which people write a reading, in the unit of its column, coarsest first.
_WRITTEN_STEPS: Final = (1.0, 0.5, 0.1, 0.01)
#: Multiples of five in one column are what a person chose to hold; in both columns, one of them was read to five. So
#: many distinct values are no accident (1 in 625). Engine speeds are held at multiples of so many rev/min.
_COARSE, _DISTINCT_FOR_COARSE, _HELD_RPM = 5.0, 4, 500.0
#: Speeds that differ by less are the same, m/s. Two readings in finer steps than the other, m/s, are not all the same
#: by chance; nor are those of a log, as the instrument lags.
_SAME_MPS, _FINE_STEP_MPS = 1e-6, 0.1
#: How true the scale of a tachometer is taken to be where nothing checks it (our assumption, no source).
TACHOMETER_SD: Final = 0.01


def read_both(recording: Recording, dash_step_mps: float | None) -> Pairs | None:
    """Pairs of a sheet with shown and measured speeds; None where no row has both.

    `dash_step_mps` is the step of the dash as stated, here and below; None where it is not.
    """
    table = recording.samples
    rows = np.flatnonzero((table["indicated_mps"].notna() & table["speed_mps"].notna()).to_numpy())
    if rows.size == 0:
        return None
    part = table.iloc[rows]
    true = part["speed_mps"].to_numpy()
    written_sd = _written_step_mps(recording, "speed_mps", true) / np.sqrt(12.0)
    true_sd = np.full(true.size, np.hypot(written_sd, RECEIVER_SD_MPS))
    if not _are_round(true / _unit_mps(recording, "speed_mps"), _COARSE):
        return _pairs(recording, part, true, true_sd, dash_step_mps)
    step_mps = _coarse_step_mps(recording, part) if dash_step_mps is None else dash_step_mps
    return _by_held_speed(_pairs(recording, part, true, true_sd, step_mps))


def is_copy(recording: Recording) -> bool:
    """Whether shown and measured speeds are the same in all rows, and not because both were rounded."""
    both = recording.samples[["indicated_mps", "speed_mps"]].dropna().to_numpy()
    if len(both) < FEWEST_ROWS or np.ptp(both[:, 0]) == 0 or np.abs(both[:, 0] - both[:, 1]).max() > _SAME_MPS:
        return False
    finely = _written_step_mps(recording, "indicated_mps", both[:, 0]) < _FINE_STEP_MPS
    return recording.kind in ("log", "track") or finely


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
    dash_step_mps = bike.speedometer.indicated_step_mps
    if dash_step_mps is None and _are_round(rpm, _HELD_RPM):
        dash_step_mps = _coarse_step_mps(recording, part)
    return _by_held_speed(_pairs(recording, part, true, true * held, dash_step_mps, common))


def _by_held_speed(pairs: Pairs) -> Pairs:
    """Make the rows at one held speed a unit: a dash rounds in the same way again, a needle stands where it stood."""
    return replace(pairs, unit=np.unique(pairs.true_mps, return_inverse=True)[1])


def shown_on_track(recording: Recording, tracks: Sequence[Recording], dash_step_mps: float | None) -> Pairs | str:
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
    return _pairs(recording, part, true, np.full(true.size, RECEIVER_SD_MPS), dash_step_mps)


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


def _unit_mps(recording: Recording, channel: str) -> float:
    label = next((column.unit for column in recording.columns if column.channel == channel), "")
    return next((SPEED_UNITS_MPS[key] for key, text in SPEED_UNIT_LABELS.items() if text == label), 1.0)


def _are_round(values: FloatArray, step: float) -> bool:
    """Whether all values are multiples of a step, to a thousandth of it."""
    return bool(np.all(np.abs(values / step - np.rint(values / step)) < 1e-3))


def _written_step_mps(recording: Recording, channel: str, speeds_mps: FloatArray) -> float:
    """Step in which speeds were written, in the unit of their column; 0 where finer than a hundredth."""
    unit_mps = _unit_mps(recording, channel)
    return next((step * unit_mps for step in _WRITTEN_STEPS if _are_round(speeds_mps / unit_mps, step)), 0.0)


def _coarse_step_mps(recording: Recording, part: pd.DataFrame) -> float | None:
    """Five units of the dash where nothing else was read from it, though other speeds were held; else None."""
    unit_mps = _unit_mps(recording, "indicated_mps")
    shown = part["indicated_mps"].to_numpy() / unit_mps
    enough = np.unique(np.rint(shown)).size >= _DISTINCT_FOR_COARSE
    return _COARSE * unit_mps if enough and _are_round(shown, _COARSE) else None


def read_to_five(recording: Recording, pairs: Pairs, dash_step_mps: float | None) -> str | None:
    """Say that readings were taken to be to five, where that was seen and not stated."""
    unit_mps = _unit_mps(recording, "indicated_mps")
    if dash_step_mps is not None or float(pairs.step_mps.max(initial=0.0)) < 0.9 * _COARSE * unit_mps:
        return None
    key = next((key for key, mps in SPEED_UNITS_MPS.items() if mps == unit_mps), "kmh")
    return (
        f"{recording.file}: other values were held and yet all that the dash showed are multiples of five, so it is "
        f"taken to have been read to five: if it was read finer, state indicated_step_{key} under [speedometer] in "
        "bike.toml."
    )


def _pairs(
    recording: Recording,
    part: pd.DataFrame,
    true: FloatArray,
    true_sd: FloatArray,
    dash_step_mps: float | None,
    common: float = 0.0,
) -> Pairs:
    shown = part["indicated_mps"].to_numpy()
    step = _written_step_mps(recording, "indicated_mps", shown) if dash_step_mps is None else dash_step_mps
    sd = np.full(shown.size, READING_SD_MPS)
    return sheet_pairs(recording.file, part["row"].to_numpy(), true, true_sd, shown, sd, step, common)
