"""The fit of one setup: its timed logs and its sheets together, sample by sample and gear by gear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gearfit.errors import LogError
from gearfit.fitting.held_sheets import with_held_speeds
from gearfit.fitting.ladder import Ladder
from gearfit.fitting.levels import Levels, merge
from gearfit.fitting.observed import STANDING_MPS
from gearfit.fitting.sheet import SheetFit, fit_sheet
from gearfit.fitting.streams import HELD_RPM_SHEET, NO_GEAR, NO_RPM, NO_STEPS, OUT_OF_LINE, STANDING, Material, gather
from gearfit.fitting.timed import TimedFit, fit_timed
from gearfit.recording import RideSetup


@dataclass(frozen=True, eq=False)
class SetupFit:
    """Fit of one setup.

    Attributes
    ----------
    material : Material
        What the recordings offered.
    ladder : Ladder or None
        What was known of the gears beforehand.
    timed : TimedFit or None
        None without timed logs.
    sheet : SheetFit
        Of the hand-entered rows (maybe none).
    levels : Levels or None
        Of both together; labels are gear numbers; None where no gear could be found.
    reason : str
        Why there are no levels.
    """

    material: Material
    ladder: Ladder | None
    timed: TimedFit | None
    sheet: SheetFit
    levels: Levels | None
    reason: str


def gather_setup(ride: RideSetup) -> Material:
    """Pair up the recordings of a setup.

    Raises
    ------
    LogError
        Nothing in it can be used, not even speeds in which runs might be found; the message says why.
    """
    material = gather(ride.recordings, same_clock=ride.setup.same_clock)
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
    """Fit one setup with what is known of its gears (None: they are sought in the samples)."""
    material = with_held_speeds(material, ladder)
    timed = fit_timed(material.streams, ladder) if material.streams else None
    centres = timed.centres if timed is not None and timed.levels is not None else None
    sheet = fit_sheet(material.sheet, ladder, centres)
    levels = timed.levels if timed is not None else None
    if levels is not None and sheet.levels is not None:
        levels = merge(levels, sheet.levels)
    elif levels is None:
        levels = sheet.levels
    reason = ""
    if levels is None:
        reason = timed.reason if timed is not None else "there are no samples with both speed and engine speed"
    return SetupFit(material, ladder, timed, sheet, levels, reason)


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
    reasons[rows] = np.where(fit.sheet.used, "", NO_GEAR)
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
