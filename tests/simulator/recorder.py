"""From a true ride to what recorders would have written: recordings in SI, each with the truth beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.records.recording import Clock, Column, Recording
from gearfit.records.schema import run_table, sample_table
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.path import positions_deg
from tests.simulator.ride import TrueRide
from tests.simulator.road import Floats

#: Unix time at which every simulated ride starts unless told otherwise: 2026-05-10T08:30:00Z.
START_S: Final = 1_778_401_800.0


@dataclass(frozen=True, eq=False)
class Observation:
    """What a recorder wrote, and the truth.

    Attributes
    ----------
    recording : Recording
        As an importer would hand it over.
    truth : pandas.DataFrame
        One row for each sample: `speed_mps` and `gear` at the moment to which the sample's speed belongs, `engine_rpm`
        and `rpm_gear` at the moment to which its engine speed belongs (gear 0 = not in gear; -1 and NaN where the
        recorder has no such channel), `time_s` of the ride at which the row was written.
    lag_s : float
        How far the engine-speed channel leads (+) the speed channel; NaN where one of them is missing.
    """

    recording: Recording
    truth: pd.DataFrame
    lag_s: float


@dataclass(frozen=True)
class Logger:
    """A logger of both channels in one file.

    Attributes
    ----------
    rate_hz : float
        Rows a second.
    speed, rpm : SpeedChannel, RpmChannel
        The channels; each is refreshed at its own rate and held in between.
    in_turn : bool
        The channels are polled one after the other: engine speed is refreshed half a round later than speed.
    """

    rate_hz: float = 10.0
    speed: SpeedChannel = field(default_factory=SpeedChannel)
    rpm: RpmChannel = field(default_factory=RpmChannel)
    in_turn: bool = False


def observe_track(
    ride: TrueRide,
    receiver: SpeedChannel,
    rng: np.random.Generator,
    *,
    rpm: RpmChannel | None = None,
    file: str = "track.gpx",
    start_s: float = START_S,
) -> Observation:
    """Record a track with the receiver's own speed, and the engine speed at each point where `rpm` is given.

    Parameters
    ----------
    ride : TrueRide
        What happened.
    receiver : SpeedChannel
        The receiver; points are missing where reception fails.
    rng : numpy.random.Generator
        Source of everything random.
    rpm : RpmChannel, optional
        Engine-speed channel, read at the times of the points.
    file : str
        Name for the recording.
    start_s : float
        Unix time of the start of the ride.
    """
    time_s = _row_times(ride, receiver.rate_hz)
    speed_mps = receiver.read(ride, time_s, rng)
    engine_rpm = np.full(time_s.size, np.nan) if rpm is None else rpm.read(ride, time_s, rng)
    kept = receiver.received(time_s, rng)
    time_s, speed_mps, engine_rpm = time_s[kept], speed_mps[kept], engine_rpm[kept]
    latitude_deg, longitude_deg = positions_deg(ride, time_s - receiver.latency_s)
    samples = sample_table(
        file,
        time_s.size,
        time_s=np.round(time_s - time_s[0], 3),
        speed_mps=speed_mps,
        engine_rpm=engine_rpm,
        rpm_sd_rpm=np.full(time_s.size, np.nan if rpm is None else rpm.step_rpm / math.sqrt(12.0)),
        elevation_m=np.round(np.interp(time_s - receiver.latency_s, ride.time_s, ride.elevation_m), 2),
        latitude_deg=np.round(latitude_deg, 8),
        longitude_deg=np.round(longitude_deg, 8),
    )
    columns = [Column("time", "time_s", "s"), Column("speed", "speed_mps", "m/s")]
    columns += [] if rpm is None else [Column("rpm", "engine_rpm", "rev/min")]
    truth = _truth(ride, time_s, receiver.latency_s, None if rpm is None else rpm.lag_s)
    recording = Recording(
        file=file,
        kind="track",
        samples=samples,
        runs=run_table(file, 0),
        clock="utc",
        start_s=start_s + float(time_s[0]),
        speed_source="receiver",
        speed_step_mps=receiver.step_mps or None,
        rpm_step_rpm=None if rpm is None else rpm.step_rpm or None,
        columns=tuple(columns),
        notes=(),
    )
    return Observation(recording, truth, math.nan if rpm is None else receiver.latency_s - rpm.lag_s)


def observe_rpm_log(
    ride: TrueRide,
    rpm: RpmChannel,
    rng: np.random.Generator,
    *,
    from_s: float = 0.0,
    until_s: float = math.inf,
    clock: Clock = "utc",
    clock_offset_s: float = 0.0,
    file: str = "rpm.csv",
    start_s: float = START_S,
) -> Observation:
    """Record engine speed alone, on a recorder of its own.

    Parameters
    ----------
    ride : TrueRide
        What happened.
    rpm : RpmChannel
        The channel.
    rng : numpy.random.Generator
        Source of everything random.
    from_s, until_s : float
        Moments of the ride at which the recorder was switched on and off.
    clock : {"utc", "elapsed"}
        Absolute time, or seconds since the recorder was switched on.
    clock_offset_s : float
        How far the recorder's absolute clock is ahead.
    file, start_s
        As `observe_track`.
    """
    time_s = _row_times(ride, rpm.rate_hz, from_s, until_s)
    samples = sample_table(
        file,
        time_s.size,
        row=np.arange(2, time_s.size + 2),
        time_s=np.round(time_s - time_s[0], 3),
        engine_rpm=rpm.read(ride, time_s, rng),
        rpm_sd_rpm=np.full(time_s.size, rpm.step_rpm / math.sqrt(12.0)),
    )
    recording = Recording(
        file=file,
        kind="log",
        samples=samples,
        runs=run_table(file, 0),
        clock=clock,
        start_s=0.0 if clock == "elapsed" else start_s + clock_offset_s + float(time_s[0]),
        speed_source="none",
        speed_step_mps=None,
        rpm_step_rpm=rpm.step_rpm or None,
        columns=(Column("time", "time_s", "s"), Column("rpm", "engine_rpm", "rev/min")),
        notes=(),
    )
    return Observation(recording, _truth(ride, time_s, None, rpm.lag_s), math.nan)


def observe_log(ride: TrueRide, logger: Logger, rng: np.random.Generator, *, file: str = "log.csv") -> Observation:
    """Record speed and engine speed in one log with seconds from its start; values are held between refreshments.

    Where reception fails, the last speed is held as well.
    """
    speed, rpm = logger.speed, logger.rpm
    time_s = _row_times(ride, logger.rate_hz)
    speed_fresh = _refreshed(time_s.size, speed.rate_hz / logger.rate_hz, 0.0)
    rpm_fresh = _refreshed(time_s.size, rpm.rate_hz / logger.rate_hz, 0.5 if logger.in_turn else 0.0)
    read_mps = speed.read(ride, time_s[speed_fresh], rng)
    received = speed.received(time_s[speed_fresh], rng)
    speed_fresh[speed_fresh] = received
    speed_mps = _held(read_mps[received], speed_fresh)
    engine_rpm = _held(rpm.read(ride, time_s[rpm_fresh], rng), rpm_fresh)
    samples = sample_table(
        file,
        time_s.size,
        row=np.arange(2, time_s.size + 2),
        time_s=np.round(time_s, 3),
        speed_mps=speed_mps,
        speed_sd_mps=np.full(time_s.size, speed.step_mps / math.sqrt(12.0)),
        speed_fresh=speed_fresh,
        engine_rpm=engine_rpm,
        rpm_sd_rpm=np.full(time_s.size, rpm.step_rpm / math.sqrt(12.0)),
        rpm_fresh=rpm_fresh,
    )
    recording = Recording(
        file=file,
        kind="log",
        samples=samples,
        runs=run_table(file, 0),
        clock="elapsed",
        start_s=0.0,
        speed_source="wheel or logger",
        speed_step_mps=speed.step_mps or None,
        rpm_step_rpm=rpm.step_rpm or None,
        columns=(
            Column("time_s", "time_s", "s"),
            Column("rpm", "engine_rpm", "rev/min"),
            Column("speed", "speed_mps", "m/s"),
        ),
        notes=(),
    )
    return Observation(recording, _truth(ride, time_s, speed.latency_s, rpm.lag_s), speed.latency_s - rpm.lag_s)


def _row_times(ride: TrueRide, rate_hz: float, from_s: float = 0.0, until_s: float = math.inf) -> Floats:
    last_s = min(until_s, float(ride.time_s[-1]))
    return from_s + np.arange(math.floor((last_s - from_s) * rate_hz + 1e-9) + 1) / rate_hz


def _refreshed(n: int, share: float, phase: float) -> NDArray[np.bool_]:
    rounds = np.floor(np.arange(n) * min(share, 1.0) + phase + 1e-9)
    fresh = np.diff(rounds, prepend=rounds[0] - (1.0 if phase == 0.0 else 0.0)) > 0
    return np.asarray(fresh, dtype=bool)


def _held(values: Floats, fresh: NDArray[np.bool_]) -> Floats:
    place = np.cumsum(fresh) - 1
    held = np.full(fresh.size, np.nan)
    held[place >= 0] = values[place[place >= 0]]
    return held


def _truth(ride: TrueRide, time_s: Floats, latency_s: float | None, lag_s: float | None) -> pd.DataFrame:
    nothing = np.full(time_s.size, np.nan)
    nowhere = np.full(time_s.size, -1, dtype=np.int64)
    speed_time = None if latency_s is None else time_s - latency_s
    rpm_time = None if lag_s is None else time_s - lag_s
    return pd.DataFrame(
        {
            "time_s": time_s,
            "speed_mps": nothing if speed_time is None else np.interp(speed_time, ride.time_s, ride.speed_mps),
            "gear": nowhere if speed_time is None else ride.gear_at(speed_time),
            "engine_rpm": nothing if rpm_time is None else np.interp(rpm_time, ride.time_s, ride.engine_rpm),
            "rpm_gear": nowhere if rpm_time is None else ride.gear_at(rpm_time),
        }
    )
