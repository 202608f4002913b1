"""All pairs of shown and true speed that the recordings of one setup hold."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gearfit.fitting.ratios.levels import Levels
from gearfit.machine.bike import Bike, Setup
from gearfit.records.recording import INSTRUMENTS, Recording
from gearfit.speedometer import sheets
from gearfit.speedometer.logs import has_both, log_pairs, partner
from gearfit.speedometer.pairs import Gathered, Pairs, join, sheet_pairs

BOTH_LOGGED = "logs with shown and measured speed"
BOTH_READ = "readings of shown and measured speed"
ON_TRACK = "shown speeds matched with held speeds of the track"
BY_RATIOS = "shown speeds at an engine speed held in gear, with the fitted ratios"
BY_TEETH = "shown speeds at an engine speed held in gear, with tooth counts, stated circumference and a true tachometer"


def gather_pairs(
    bike: Bike, setup: Setup, recordings: Sequence[Recording], levels: Levels | None, logged: bool
) -> Gathered | None:
    """Gather the pairs of one setup.

    Parameters
    ----------
    bike, setup : Bike, Setup
        The machine.
    recordings : sequence of Recording
        Of this setup.
    levels : Levels or None
        ln(n/v) of the gears from measured speeds; None without.
    logged : bool
        Whether those levels rest on an engine speed of a log rather than on the tachometer of the dash.

    Returns
    -------
    Gathered or None
        None where no recording holds shown speeds.
    """
    parts: list[Pairs] = []
    lags: list[float] = []
    kinds: list[str] = []
    notes: list[str] = []
    seen = False
    for recording in recordings:
        if not recording.samples["indicated_mps"].notna().any():
            continue
        seen = True
        found, kind, lag_s = _of_one(bike, setup, recording, recordings, levels, logged)
        if isinstance(found, str):
            notes.append(f"{found}.")
            continue
        remark = sheets.read_to_five(recording, found, bike.speedometer.indicated_step_mps)
        notes += [] if remark is None or kind == BOTH_LOGGED else [remark]
        parts.append(found)
        kinds.append(kind)
        lags += [] if lag_s is None else [lag_s]
    if not seen:
        return None
    return Gathered(join(parts) if parts else _none(), tuple(lags), tuple(dict.fromkeys(kinds)), tuple(notes))


def _of_one(
    bike: Bike,
    setup: Setup,
    recording: Recording,
    recordings: Sequence[Recording],
    levels: Levels | None,
    logged: bool,
) -> tuple[Pairs | str, str, float | None]:
    """Pairs of one recording (or why there are none), what they rest on, and the lag of a log."""
    if recording.speed_source != "speedometer" and sheets.is_copy(recording):
        return f"{recording.file}: shown and measured speeds are the same in every row, so one is a copy", "", None
    if recording.kind in ("log", "track"):
        true = recording if has_both(recording) else partner(recording, recordings)
        if true is None:
            return f"{recording.file} holds shown speeds, but no speeds of a receiver at the same time", "", None
        result = log_pairs(recording, true)
        return (result, "", None) if isinstance(result, str) else (result[0], BOTH_LOGGED, result[1])
    if recording.speed_source not in INSTRUMENTS:
        read = sheets.read_both(recording, bike.speedometer.indicated_step_mps)
        return (f"{recording.file} has no row with both speeds" if read is None else read), BOTH_READ, None
    tracks = [r for r in recordings if r.kind in ("track", "log") and r.speed_source not in (*INSTRUMENTS, "none")]
    in_gear = sheets.shown_in_gear(recording, bike, setup, levels, logged)
    if levels is not None and not isinstance(in_gear, str):
        return in_gear, BY_RATIOS, None
    if tracks:
        on_track = sheets.shown_on_track(recording, tracks, bike.speedometer.indicated_step_mps)
        if not isinstance(on_track, str) or isinstance(in_gear, str):
            return on_track, ON_TRACK, None
    return in_gear, BY_TEETH, None


def _none() -> Pairs:
    nothing = np.empty(0)
    return sheet_pairs("", np.empty(0, dtype=np.int64), nothing, nothing, nothing, nothing, 0.0)
