"""A speedometer on the dash as a logger or a camera would record it beside a receiver's speed."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from gearfit.records.recording import Column, Recording
from gearfit.records.schema import run_table, sample_table
from gearfit.units import MPS_PER_KMH, MPS_PER_MPH
from tests.simulator.instruments import SpeedChannel
from tests.simulator.noise import in_steps
from tests.simulator.ride import TrueRide
from tests.simulator.road import Floats
from tests.simulator.sheets import Speedometer

#: Above any speed of a road vehicle: no stop.
_NO_CEILING_MPS: Final = 1000.0


@dataclass(frozen=True)
class Dash:
    """How the instrument follows and shows.

    Attributes
    ----------
    speedometer : Speedometer
        Gain, offset and pick-up.
    damping_s : float
        Time constant of the needle or of the display's averaging (first order).
    refresh_hz : float
        New values a second; held in between.
    step_mps : float
        Resolution; 0 for a needle.
    floored : bool
        Cut off downwards to that resolution rather than rounded.
    starts_at_mps : float
        Below this indication it shows `rests_at_mps`.
    rests_at_mps : float
        What it shows then.
    ceiling_mps : float
        It shows no more than this.
    bend : float
        Departure from the straight line at 40 m/s, in m/s: shown gets `bend` (v / 40)^2 more.
    """

    speedometer: Speedometer
    damping_s: float = 0.4
    refresh_hz: float = 4.0
    step_mps: float = MPS_PER_KMH
    floored: bool = False
    starts_at_mps: float = 5.0 * MPS_PER_KMH
    rests_at_mps: float = 0.0
    ceiling_mps: float = _NO_CEILING_MPS
    bend: float = 0.0

    def read(self, ride: TrueRide, time_s: Floats) -> Floats:
        """Return what the instrument shows at evenly spaced times, shape (n,)."""
        machine = ride.machine
        told = np.array([self.speedometer.shown_mps(machine, v) for v in (0.0, 1.0)])
        needle = told[0] + (told[1] - told[0]) * ride.speed_mps + self.bend * (ride.speed_mps / 40.0) ** 2
        needle = _damped(needle, ride.step_s, self.damping_s)
        moments = np.floor(time_s * self.refresh_hz) / self.refresh_hz
        shown = np.interp(moments, ride.time_s, needle)
        shown = np.where(shown < self.starts_at_mps, self.rests_at_mps, shown)
        return np.minimum(in_steps(shown, self.step_mps, self.floored), self.ceiling_mps)


def observe_dash(
    ride: TrueRide,
    dash: Dash,
    receiver: SpeedChannel,
    rng: np.random.Generator,
    *,
    file: str = "dash.csv",
) -> Recording:
    """Record what the dash shows beside the speed of a receiver, one log with both.

    Parameters
    ----------
    ride : TrueRide
        What happened.
    dash : Dash
        The instrument.
    receiver : SpeedChannel
        The receiver; its rate is the rate of the rows.
    rng : numpy.random.Generator
        Source of everything random.
    file : str
        Name for the recording.
    """
    n = math.floor(float(ride.time_s[-1]) * receiver.rate_hz + 1e-9) + 1
    time_s = np.arange(n) / receiver.rate_hz
    samples = sample_table(
        file,
        n,
        row=np.arange(2, n + 2),
        time_s=np.round(time_s, 3),
        speed_mps=receiver.read(ride, time_s, rng),
        speed_sd_mps=np.full(n, receiver.step_mps / math.sqrt(12.0)),
        indicated_mps=dash.read(ride, time_s),
    )
    return Recording(
        file=file,
        kind="log",
        samples=samples,
        runs=run_table(file, 0),
        clock="elapsed",
        start_s=0.0,
        speed_source="receiver",
        speed_step_mps=receiver.step_mps or None,
        rpm_step_rpm=None,
        columns=(
            Column("time_s", "time_s", "s"),
            Column("gps_speed", "speed_mps", "m/s"),
            Column("indicated", "indicated_mps", "m/s"),
        ),
        notes=(),
    )


def steady_sheet(
    gain: float,
    offset_mps: float,
    true_mps: Floats,
    rng: np.random.Generator,
    *,
    step_mps: float = MPS_PER_KMH,
    reading_sd_mps: float = 0.15,
    receiver_sd_mps: float = 0.1,
    file: str = "dash.csv",
) -> Recording:
    """Note shown and receiver's speed at held speeds: whole steps of the dash, 0.1 km/h of the receiver."""
    n = true_mps.size
    unit = "mph" if abs(step_mps / MPS_PER_MPH - round(step_mps / MPS_PER_MPH)) < 1e-9 else "km/h"
    needle = offset_mps + gain * true_mps + reading_sd_mps * rng.standard_normal(n)
    read = true_mps + receiver_sd_mps * rng.standard_normal(n)
    receiver_step_mps = 0.1 * MPS_PER_KMH
    samples = sample_table(
        file,
        n,
        row=np.arange(2, n + 2),
        speed_mps=in_steps(read, receiver_step_mps, False),
        speed_sd_mps=np.full(n, receiver_step_mps / math.sqrt(12.0)),
        indicated_mps=in_steps(needle, step_mps, False),
    )
    return Recording(
        file=file,
        kind="samples",
        samples=samples,
        runs=run_table(file, 0),
        clock="none",
        start_s=None,
        speed_source="hand",
        speed_step_mps=receiver_step_mps,
        rpm_step_rpm=None,
        columns=(Column("indicated", "indicated_mps", unit), Column("gps", "speed_mps", "km/h")),
        notes=(),
    )


def without_receiver(sheet: Recording) -> Recording:
    """Return a sheet of steady readings without the receiver's speeds, as an importer would hand it over."""
    samples = sheet.samples.copy()
    samples["speed_mps"] = samples["indicated_mps"]
    return replace(sheet, samples=samples, speed_source="speedometer")


def _damped(values: Floats, step_s: float, damping_s: float) -> Floats:
    """First-order low-pass, started at its first value."""
    if damping_s <= 0:
        return values
    keep = math.exp(-step_s / damping_s)
    result = np.empty_like(values)
    state = float(values[0])
    for k in range(values.size):
        state = keep * state + (1.0 - keep) * float(values[k])
        result[k] = state
    return result
