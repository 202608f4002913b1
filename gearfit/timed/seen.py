"""What the recordings of a setup hold for runs: cleaned speeds with their noise, gears and engine speeds."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from gearfit.fitting.gathering.streams import REPLACED, SHOWN_ONLY
from gearfit.fitting.ratios.noise import noise_of
from gearfit.fitting.setup_fit import SetupFit
from gearfit.records.recording import Recording, RideSetup
from gearfit.timed.engine import EngineSpeeds, engine_speeds
from gearfit.timed.gears import with_short_engagements
from gearfit.timed.noise import SpeedNoise, noise_in
from gearfit.timed.trace import BoolArray, FloatArray, Trace, make_trace

_SOURCES: Final = ("receiver", "position", "wheel or logger", "machine")


@dataclass(frozen=True, eq=False)
class Recorded:
    """A trace with the engine speed not smoothed, for the changes of gear, which smoothing blurs.

    Attributes
    ----------
    trace : Trace
        With the engine speed of each moment.
    rpm_time_s, engine_rpm : (m,) float
        Engine speeds on the trace's clock, lag taken out.
    """

    trace: Trace
    rpm_time_s: FloatArray
    engine_rpm: FloatArray


@dataclass(frozen=True, eq=False)
class Seen:
    """One recording's speeds with their noise, and its engine speeds as road speeds (None: no gear) and as recorded."""

    trace: Trace
    noise: SpeedNoise
    engine: EngineSpeeds | None
    recorded: Recorded


def seen_in(ride: RideSetup, fit: SetupFit, samples: pd.DataFrame) -> list[Seen]:
    """Gather what each recording with measured speeds holds for runs; arguments as `find.find_runs`."""
    traces = [with_short_engagements(trace, fit.levels) for trace in _traces(ride, fit, samples)]
    return [
        Seen(trace, noise_in(trace, _shown(fit, trace.file)), _engine(fit, trace), _recorded(fit, trace))
        for trace in traces
    ]


def _traces(ride: RideSetup, fit: SetupFit, samples: pd.DataFrame) -> list[Trace]:
    found = []
    streams = {one.file: one for one in fit.material.streams}
    of = {recording.file: recording for recording in ride.recordings}
    for recording in ride.recordings:
        s = recording.samples
        if recording.kind not in ("track", "log") or recording.speed_source not in _SOURCES:
            continue
        own = samples[(samples["file"] == recording.file).to_numpy()]
        unused = own["left_out"].isin([REPLACED, SHOWN_ONLY]).to_numpy()
        take = (s["speed_fresh"] & s["speed_mps"].notna() & s["time_s"].notna()).to_numpy() & ~unused
        if take.sum() > 2:
            stream = streams.get(recording.file)
            clock = _clock(recording, 0.0)
            if stream is not None and stream.engine_file in of:
                clock = _clock(of[stream.engine_file], stream.engine_shift_s)
            found.append(_trace(recording, own[take], take, clock))
    return found


def _clock(recording: Recording, shift_s: float) -> tuple[str, float]:
    """Name of a recording's clock, and what it shows at 0 of times that are those of the recording plus `shift_s`."""
    if recording.clock in ("utc", "time of day") and recording.start_s is not None:
        return recording.clock, recording.start_s - shift_s
    return f"of {recording.file}", -shift_s


def _trace(recording: Recording, own: pd.DataFrame, take: BoolArray, clock: tuple[str, float]) -> Trace:
    s = recording.samples
    sd = s["speed_sd_mps"].to_numpy()[take]
    if recording.speed_step_mps and not np.isfinite(sd).any():
        sd = np.full(sd.size, recording.speed_step_mps / 12**0.5)
    return make_trace(
        s["time_s"].to_numpy()[take],
        s["speed_mps"].to_numpy()[take],
        file=recording.file,
        source=recording.speed_source,
        clock=clock[0],
        start_s=clock[1],
        speed_sd_mps=sd,
        engine_rpm=own["engine_rpm"].to_numpy(dtype=np.float64),
        gear=own["gear"].fillna(0).to_numpy(dtype=np.int64),
        elevation_m=s["elevation_m"].to_numpy()[take],
        latitude_deg=s["latitude_deg"].to_numpy()[take],
        longitude_deg=s["longitude_deg"].to_numpy()[take],
    )


def _shown(fit: SetupFit, file: str) -> tuple[float, float, float] | None:
    """White and correlated noise (m/s) and correlation time (s) that the samples in gear of a file show."""
    if fit.timed is None or fit.timed.levels is None:
        return None
    for found in fit.timed.streams:
        if found.stream.file == file:
            o, inside = found.observed, found.path >= 0
            residual = o.log_ratio[inside] - fit.timed.centres[found.path[inside]]
            shown = noise_of(o.time_s[inside], residual, o.speed_mps[inside])
            return None if shown is None else (shown.white_mps, shown.correlated_mps, shown.correlation_s)
    return None


def _engine(fit: SetupFit, trace: Trace) -> EngineSpeeds | None:
    if fit.timed is None or fit.timed.levels is None:
        return None
    streams = [found for found in fit.timed.streams if found.stream.file == trace.file]
    return engine_speeds(streams[0], trace) if streams else None


def _recorded(fit: SetupFit, trace: Trace) -> Recorded:
    for found in fit.timed.streams if fit.timed is not None else ():
        stream = found.stream
        if stream.file == trace.file and stream.rpm_time_s.size:
            time_s = stream.rpm_time_s + found.lag_s
            rpm = np.where(np.isfinite(trace.engine_rpm), np.interp(trace.time_s, time_s, stream.engine_rpm), np.nan)
            return Recorded(
                with_short_engagements(replace(trace, engine_rpm=rpm), fit.levels), time_s, stream.engine_rpm
            )
    return Recorded(with_short_engagements(trace, fit.levels), trace.time_s, trace.engine_rpm)
