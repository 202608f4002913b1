"""What `gearfit check` prints about a file."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from gearfit.importers.common.track_speed import PAUSE_INTERVALS
from gearfit.records.recording import Recording
from gearfit.records.words import count

Floats = NDArray[np.float64]

KINDS = {
    "track": "track of a satellite receiver",
    "log": "log (values over time)",
    "samples": "sheet of samples (engine speed and speed)",
    "held rpm": "held-rpm sheet (gear and engine speed)",
    "timed runs": "sheet of timed runs",
    "odometer": "sheet of odometer readings",
}
SOURCES = {
    "receiver": "satellite receiver's own speed",
    "position": "derived from positions",
    "machine": "what the machine itself says (vehicle, wheel, OBD or ECU speed)",
    "wheel or logger": "speed column of the log (wheel or logger)",
    "speedometer": "what the speedometer showed",
    "hand": "written by hand",
    "none": "none",
}


def describe(recording: Recording) -> list[str]:
    """Say what the importer saw in a file.

    Parameters
    ----------
    recording : Recording
        One file, read.

    Returns
    -------
    list of str
        Lines for the terminal: kind, columns, rows, rate, pauses, time span, what is missing for the fit, notes.
    """
    lines = [f"{recording.file}: {KINDS[recording.kind]}"]
    for column in recording.columns:
        unit = f" [{column.unit}]" if column.unit else ""
        lines.append(f"  column {column.header!r} -> {column.channel}{unit}")
    lines.append(f"  rows: {_rows(recording)}")
    if recording.kind not in ("timed runs", "held rpm", "odometer"):
        lines.append(f"  speed: {SOURCES[recording.speed_source]}")
    lines.extend(_time_lines(recording))
    lines.extend(f"  missing: {text}" for text in _missing(recording))
    lines.extend(f"  warning: {text}" for text in recording.warnings)
    lines.extend(f"  note: {note}" for note in recording.notes)
    return lines


def _rows(recording: Recording) -> str:
    if recording.kind == "timed runs":
        return count(len(recording.runs), "run")
    if recording.kind == "odometer":
        return count(len(recording.odometer), "ride")
    samples = recording.samples
    parts = [f"{len(samples)} read"]
    for channel, fresh, label in (
        ("speed_mps", "speed_fresh", "speed"),
        ("engine_rpm", "rpm_fresh", "engine speed"),
    ):
        present, anew = int(samples[channel].notna().sum()), int(samples[fresh].sum())
        if present:
            parts.append(f"{present} with {label}" + (f" ({anew} measured anew)" if anew < present else ""))
    return ", ".join(parts)


def _time_lines(recording: Recording) -> list[str]:
    time_s = recording.samples["time_s"].to_numpy()
    if recording.clock == "none" or time_s.size < 2:
        return []
    steps = np.diff(time_s)
    steps = steps[steps > 0]
    if not steps.size:
        return ["  time: all rows have one time"]
    typical = float(np.median(steps))
    pauses = steps[steps > PAUSE_INTERVALS * typical]
    lines = [f"  rate: {1.0 / typical:.3g} rows a second (every {typical:.3g} s)"]
    if pauses.size:
        lines.append(
            f"  pauses longer than {PAUSE_INTERVALS * typical:.3g} s: {pauses.size}, longest {pauses.max():.1f} s"
        )
    else:
        lines.append("  pauses: none")
    lines.append(f"  time: {_start(recording)}, {_duration(float(time_s[-1] - time_s[0]))} long")
    return lines


def _start(recording: Recording) -> str:
    start_s = recording.start_s or 0.0
    if recording.clock == "utc":
        return f"from {datetime.fromtimestamp(start_s, UTC):%Y-%m-%d %H:%M:%S} UTC"
    if recording.clock == "time of day":
        minutes, seconds = divmod(start_s, 60.0)
        clock = f"{int(minutes) // 60:02d}:{int(minutes) % 60:02d}:{seconds:06.3f}"
        if recording.start_day is not None:
            return f"from {date(1970, 1, 1) + timedelta(recording.start_day)} {clock} (no zone)"
        dated = any(column.channel == "time_s" and "date" in column.unit for column in recording.columns)
        return f"from {clock} ({'no zone, and its date can be read in two ways' if dated else 'no date or zone'})"
    return f"from {start_s:g} s on the logger's own clock"


def _duration(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest:02d} s" if minutes else f"{seconds:.1f} s"


def _missing(recording: Recording) -> list[str]:
    if recording.kind == "timed runs":
        return []
    if recording.kind == "odometer":
        noted = all(reading.true_m is not None for reading in recording.odometer)
        return [] if noted else ["no true distance here: add a track of each ride, or a column odometer_true_km"]
    if recording.kind == "held rpm":
        return ["no speed here: add a track (GPX or NMEA) of the same ride"]
    samples = recording.samples
    found = []
    if not samples["engine_rpm"].notna().any():
        found.append("no rpm here: add a held-rpm sheet, an rpm log or a sound recording of the engine")
    if not samples["speed_mps"].notna().any():
        found.append("no speed here: add a track (GPX or NMEA) or a speed log of the same ride")
    elif recording.speed_source == "speedometer":
        found.append("no true speed here: add a track (GPX or NMEA) or a speed that is not from the dash")
    elif recording.speed_source == "machine":
        found.append("no true speed here, only the machine's own: add a track (GPX or NMEA) of the same ride")
    return found
