"""The fit of all setups: timed logs and sheets together, sample by sample and gear by gear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from gearfit.errors import LogError
from gearfit.fitting.gathering.streams import (
    HELD_RPM_SHEET,
    NO_GEAR,
    NO_RPM,
    NO_STEPS,
    OUT_OF_LINE,
    STANDING,
    UNCLEAR_GEAR,
    gather,
)
from gearfit.fitting.held.held_sheets import with_held_speeds
from gearfit.fitting.pairing.material import Material
from gearfit.fitting.pairing.observed import STANDING_MPS
from gearfit.fitting.ratios.engine_correction import raised
from gearfit.fitting.ratios.levels import Levels, merge, read_by_hand
from gearfit.fitting.ratios.timed import fit_timed
from gearfit.fitting.ratios.timed_fit import TimedFit
from gearfit.fitting.readings.noted_gears import Misnoted, misnoted, numbered, with_misnoted
from gearfit.fitting.readings.sheet import Placed, SheetFit, fit_sheets
from gearfit.fitting.shared_ladder import laid_beside, one_ladder
from gearfit.fitting.stated_gears import Lacking, lacking
from gearfit.fitting.which_gear.ladder import Ladder
from gearfit.fitting.which_gear.numbering import Numbering, Unplaced
from gearfit.records.recording import RideSetup

#: Gears below those that a log shows stand so far above them in ln ratio that no sample is in one.
_FAR_BELOW: Final = 5.0
#: How well a log's own ladder lies on it, ln ratio.
_SAME_PLACE: Final = 0.02


@dataclass(frozen=True, eq=False)
class SetupFit:
    """Fit of one setup.

    Attributes
    ----------
    material : Material
        What the recordings offered.
    ladder : Ladder or None
        What the gears were laid on.
    timed : TimedFit or None
        None without timed logs.
    sheet : SheetFit
        Of the hand-entered rows (maybe none).
    levels : Levels or None
        Of both together; labels are gear numbers; None where no gear could be found.
    reason : str
        Why there are no levels.
    numbering : Numbering
        How surely the gears of the sheet's rows are numbered; of rows without a noted gear.
    change_log_odds : float
        Log of odds of the gears' numbers, next to those of the first setup, against the next best: below
        `gearfit.fitting.which_gear.numbering.SURE` no change can be told.
    refused : Ladder or None
        The stated ladder where the logs show other steps, so that `ladder` is what they show.
    misnoted : tuple of Misnoted
        Rows of the sheet that were noted under a wrong gear; they are among `sheet.odd`.
    lacking : Lacking or None
        What the stated gearbox lacks, so that its ratios are not used.
    """

    material: Material
    ladder: Ladder | None
    timed: TimedFit | None
    sheet: SheetFit
    levels: Levels | None
    reason: str
    numbering: Numbering
    change_log_odds: float
    refused: Ladder | None
    misnoted: tuple[Misnoted, ...] = ()
    lacking: Lacking | None = None


def gather_setup(ride: RideSetup, ladder: Ladder | None = None) -> Material:
    """Pair up the recordings of a setup; `ladder` is that of its tooth counts, where they are stated.

    Raises
    ------
    LogError
        Nothing in it can be used, not even speeds in which runs might be found; the message says why.
    """
    material = gather(ride.recordings, same_clock=ride.setup.same_clock, ladder=ladder)
    if not material.tracks:
        demand_use(ride, material)
    return material


def demand_use(ride: RideSetup, material: Material) -> None:
    """Make sure that a setup tells something beside the runs that may be found in its speeds.

    Raises
    ------
    LogError
        Not one sample has both speed and engine speed, no run was timed by hand, and no instrument can be judged; the
        message says why.
    """
    held = bool(material.tracks) and bool(np.any(material.reasons == HELD_RPM_SHEET))
    usable = bool(material.streams) or material.sheet.rows.size > 0 or held or _has_shown_and_true(material)
    if not usable and not any(len(recording.runs) or recording.odometer for recording in ride.recordings):
        if material.problems:
            raise LogError(f"setup {ride.setup.name}", material.problems[0], "Then run the report again")
        raise LogError(
            f"setup {ride.setup.name}",
            "no sample has both a speed and an engine speed",
            "Add a log with both, or a sheet with the columns gear, rpm and speed_kmh or speed_mph",
        )


def _has_shown_and_true(material: Material) -> bool:
    """Whether there are both what the speedometer showed and measured speeds: enough to judge that instrument."""
    shown, true = material.table["indicated_mps"], material.table["speed_mps"]
    return bool(shown.notna().any() and (true.notna() & (shown != true)).any())


def fit_setup(material: Material, ladder: Ladder | None) -> SetupFit:
    """Fit one setup by itself with what is known of its gears (None: they are sought in the samples)."""
    return fit_setups([material], [ladder], [None])[0]


@dataclass(frozen=True, eq=False)
class _Shown:
    """What the timed logs of a setup show, and on which ladder."""

    timed: TimedFit | None
    ladder: Ladder | None
    refused: Ladder | None = None
    change_log_odds: float = np.inf


def fit_setups(
    materials: Sequence[Material],
    ladders: Sequence[Ladder | None],
    log_changes: Sequence[float | None],
) -> list[SetupFit]:
    """Fit all setups of a machine: each one's logs, then the numbers of the gears and the readings of all together.

    Parameters
    ----------
    materials : sequence of Material
        As `gather_setup`.
    ladders : sequence of Ladder or None
        What is known of each setup's gears; None: they are sought in the samples.
    log_changes : sequence of float or None
        What the teeth predict for each against the first: ln of road speed at the same engine speed.
    """
    materials = [with_held_speeds(material, ladder) for material, ladder in zip(materials, ladders, strict=True)]
    alone = list(map(_show, materials, ladders))
    corrected = raised(materials, [found.timed for found in alone])
    if corrected is not None:
        materials = corrected
        alone = list(map(_show, materials, ladders))
    shown = _on_one_ladder(alone, log_changes)
    noted = any(np.nan_to_num(material.sheet.stated_gear).any() for material in materials)
    unplaced = [_unplaced(*entry, noted) for entry in zip(materials, shown, log_changes, strict=True)]
    rows = [material.sheet.rows.size for material in materials]
    wrong = misnoted(unplaced, rows)
    numbers = numbered(unplaced, wrong)
    lacks = None
    if all(found.timed is None or found.timed.levels is None for found in shown):
        lacks = lacking(unplaced, numbers, rows)
    if lacks is not None:
        shown = [replace(found, ladder=None) for found in shown]
        unplaced = [_unplaced(*entry, noted) for entry in zip(materials, shown, log_changes, strict=True)]
        numbers = numbered(unplaced, wrong)
    if noted:
        shown = [_counted_on(*entry) for entry in zip(shown, unplaced, numbers, strict=True)]
    placed = [_placed(*entry) for entry in zip(materials, shown, numbers, strict=True)]
    fits = [_joined(*entry) for entry in zip(materials, shown, numbers, fit_sheets(placed), strict=True)]
    return [
        replace(fit, misnoted=slips, sheet=with_misnoted(fit.sheet, slips), lacking=None if lacks is None else lacks[k])
        for k, (fit, slips) in enumerate(zip(fits, wrong, strict=True))
    ]


def _show(material: Material, ladder: Ladder | None) -> _Shown:
    """Fit the logs of one setup; where the stated ladder does not lie on them, without it."""
    if not material.streams:
        return _Shown(None, ladder)
    timed = fit_timed(material.streams, ladder)
    if timed.levels is None and ladder is not None:
        alone = fit_timed(material.streams, None)
        if alone.levels is not None:
            return _Shown(alone, None, ladder)
    return _Shown(timed, ladder)


def _on_one_ladder(shown: list[_Shown], log_changes: Sequence[float | None]) -> list[_Shown]:
    """Fit the logs whose gears were found in the samples again on one ladder, made of what all of them show."""
    own = [k for k, s in enumerate(shown) if s.ladder is None and s.timed is not None and s.timed.levels is not None]
    silent = [k for k, s in enumerate(shown) if s.ladder is None and s.timed is not None and s.timed.levels is None]
    if len(own) + len(silent) < 2 or not own:
        return shown
    levels = [t.levels for k in own if (t := shown[k].timed) is not None and t.levels is not None]
    shared = one_ladder(levels, [log_changes[k] for k in own])
    ladders = dict(zip(own, shared, strict=True))
    first, change = shared[0][0], log_changes[own[0]]
    for k in [*own, *silent]:
        timed, told = shown[k].timed, log_changes[k]
        if timed is None:
            continue
        moved = None if told is None or change is None else told - change
        ladder, odds = ladders.get(k, (laid_beside(first, moved), np.inf))
        again = fit_timed([found.stream for found in timed.streams], ladder)
        if k not in ladders and again.shift is not None:
            odds = again.shift.log_odds
        shown[k] = replace(shown[k], timed=again, ladder=ladder, change_log_odds=odds)
    return shown


def _counted_on(shown: _Shown, unplaced: Unplaced, numbers: Numbering) -> _Shown:
    """Fit a log whose gears were counted from the lowest again, so that they bear the numbers noted on sheets."""
    timed, ladder = shown.timed, shown.ladder
    counted = timed is not None and timed.levels is not None and (ladder is None or ladder.origin != "tooth counts")
    if not counted or timed is None or timed.levels is None:
        return shown
    told = numbers.gear[-timed.levels.gear.size :]
    below = np.unique((told - timed.levels.gear)[told > 0])
    if below.size != 1 or below[0] <= 0:
        return shown if below.tolist() == [0] else replace(shown, change_log_odds=0.0)
    lower = timed.centres[0] + _FAR_BELOW + np.arange(int(below[0]))[::-1]
    padded = Ladder(np.concatenate([lower, timed.centres]), 0.0, _SAME_PLACE, "from the samples")
    return replace(shown, timed=fit_timed([found.stream for found in timed.streams], padded), ladder=padded)


def _unplaced(material: Material, shown: _Shown, log_change: float | None, noted: bool) -> Unplaced:
    """Put together what a setup shows; gears that a log counts from its lowest are none where others are noted."""
    sheet, timed = material.sheet, shown.timed.levels if shown.timed is not None else None
    stated = shown.ladder if shown.ladder is not None and shown.ladder.origin == "tooth counts" else None
    known = timed.log_ratio if timed is not None else np.empty(0)
    error = np.sqrt(np.diag(timed.covariance)) if timed is not None else np.empty(0)
    reading = np.hypot(sheet.speed_sd_mps / sheet.speed_mps, sheet.rpm_sd_rpm / sheet.engine_rpm)
    told = np.nan_to_num(sheet.stated_gear).astype(np.int64)
    counted = np.empty(0, dtype=np.int64) if timed is None else timed.gear * (not noted or stated is not None)
    return Unplaced(
        log_ratio=np.concatenate([np.log(sheet.engine_rpm / sheet.speed_mps), known]),
        sd=np.concatenate([reading, error]),
        gear=np.concatenate([told, counted]),
        ladder=None if stated is None else stated.log_ratio,
        expected=None if stated is None else stated.expected_shift,
        log_change=log_change,
    )


def _placed(material: Material, shown: _Shown, numbers: Numbering) -> Placed:
    table, rows = material.table, material.sheet.rows
    indicated = table["indicated_mps"].to_numpy()[rows] == table["speed_mps"].to_numpy()[rows]
    timed = shown.timed.levels if shown.timed is not None else None
    return Placed(material.sheet, indicated, numbers.gear[: rows.size], shown.ladder, timed)


def _joined(material: Material, shown: _Shown, numbers: Numbering, sheet: SheetFit) -> SetupFit:
    timed = shown.timed
    levels = timed.levels if timed is not None else None
    if sheet.levels is not None:
        read = read_by_hand(sheet.levels)
        levels = read if levels is None else merge(levels, read)
    reason = ""
    if levels is None:
        reason = timed.reason if timed is not None else "there are no samples with both speed and engine speed"
    odds = min(shown.change_log_odds, numbers.change_log_odds)
    return SetupFit(material, shown.ladder, timed, sheet, levels, reason, numbers, odds, shown.refused)


def sample_frame(fit: SetupFit) -> pd.DataFrame:
    """Return every sample of the setup with its gear or the reason why it has none (columns as in `SetupResult`)."""
    table = fit.material.table
    reasons = fit.material.reasons.copy()
    gear = np.zeros(len(table), dtype=np.int64)
    rpm = table["engine_rpm"].to_numpy(copy=True)
    if fit.timed is not None:
        for found in fit.timed.streams:
            rows, stream = found.stream.rows, found.stream
            paired = stream.rpm_at_speed(found.observed.lag_s)
            rpm[rows] = paired
            slow = stream.speed_mps + found.offset_mps <= STANDING_MPS
            reasons[rows] = np.where(slow, STANDING, np.where(np.isfinite(paired), NO_GEAR, NO_RPM))
            seen = rows[found.observed.index]
            gear[seen] = found.path + 1
            reasons[seen] = np.where(found.path >= 0, "", NO_STEPS if fit.timed.levels is None else NO_GEAR)
    rows = fit.material.sheet.rows
    speed = table["speed_mps"].to_numpy(copy=True)
    speed[rows] = fit.material.sheet.speed_mps
    gear[rows] = np.where(fit.sheet.used, fit.sheet.gear, 0)
    reasons[rows] = np.where(fit.sheet.used, "", UNCLEAR_GEAR)
    for odd in fit.sheet.odd:
        reasons[rows[odd.position]] = OUT_OF_LINE
    with np.errstate(divide="ignore", invalid="ignore"):
        log_ratio = np.log(rpm / speed)
    return pd.DataFrame(
        {
            "file": table["file"],
            "row": table["row"],
            "time_s": table["time_s"],
            "speed_mps": speed,
            "engine_rpm": rpm,
            "gear": pd.Series(gear, dtype="Int64").mask(gear == 0),
            "left_out": pd.Series(reasons, dtype="str"),
            "ln_ratio": np.where(np.isfinite(log_ratio), log_ratio, np.nan),
        }
    )
