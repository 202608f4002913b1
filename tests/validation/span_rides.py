"""Rides with standing starts among stops, U-turns, traffic and dropouts, and the true times of their runs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from gearfit.simulation.instruments import SpeedChannel
from gearfit.simulation.machine import Machine
from gearfit.simulation.machines import close_ratio_single, commuter_twin, trail_bike
from gearfit.simulation.manoeuvres import Launch, Manoeuvre, Standstill, Stop, Traffic, UTurn
from gearfit.simulation.recorder import observe_track
from gearfit.simulation.ride import TrueRide, simulate
from gearfit.spans.asked import Span
from gearfit.spans.trace import Trace, make_trace

TARGET = Span(0.0, 100 / 3.6)
STARTS = 4
#: Machine and the share of its limit at which it is shifted: none changes gear within 1 km/h of 100 km/h.
MACHINES = ((close_ratio_single, 0.93), (commuter_twin, 0.96), (trail_bike, 0.80))
#: Name and receiver. Noise: white 0.04 m/s, 0.08 m/s over 1.5 s, delay 0.2 s jittering by 5 ms, dropouts.
USUAL = SpeedChannel(latency_sd_s=0.005, dropouts_per_minute=0.4, dropout_s=4.0)
RECEIVERS = (
    ("25 Hz", replace(USUAL, rate_hz=25.0)),
    ("10 Hz", USUAL),
    ("10 Hz, good reception (half the noise)", replace(USUAL, white_sd_mps=0.02, correlated_sd_mps=0.04)),
    ("10 Hz, steps of 1 km/h", replace(USUAL, step_mps=1 / 3.6)),
    ("5 Hz", replace(USUAL, rate_hz=5.0)),
    ("1 Hz", replace(USUAL, rate_hz=1.0, latency_sd_s=0.02)),
)


@dataclass(frozen=True)
class TrueRun:
    """Start, time to the target and whether the throttle was open all the way."""

    start_s: float
    time_s: float
    open_throttle: bool


def ride_of(seed: int, base: int) -> TrueRide:
    """Ride once: four full-throttle starts, traffic with stops and U-turns between them."""
    rng = np.random.default_rng([base, seed])
    build, share = MACHINES[seed % len(MACHINES)]
    machine = build("before")
    script: list[Manoeuvre] = [Standstill(6.0)]
    until_s = 6.0
    for _ in range(STARTS):
        until_s += 70.0
        script += [
            _Today(31.0, share * machine.limit_rpm, float(rng.normal(0, 0.04)), float(rng.normal(0, 0.08))),
            UTurn(float(rng.uniform(3, 8))),
            Traffic(until_s, 5.0, 25.0, stop_share=0.3),
            Stop(),
            Standstill(float(rng.uniform(3.0, 8.0))),
        ]
    return simulate(machine, script, rng)


@dataclass(frozen=True)
class _Today:
    """A launch that is not quite like the others: launch speed and shift time differ by these shares."""

    to_mps: float
    shift_rpm: float
    launch_share: float
    shift_share: float

    def ride(self, rider: object) -> None:
        motion = rider.motion  # type: ignore[attr-defined]
        usual: Machine = motion.machine
        motion.machine = replace(
            usual,
            launch_rpm=usual.launch_rpm * (1 + self.launch_share),
            shift_time_s=usual.shift_time_s * (1 + self.shift_share),
        )
        Launch(self.to_mps, self.shift_rpm).ride(rider)  # type: ignore[arg-type]
        motion.machine = usual


def true_runs(ride: TrueRide) -> list[TrueRun]:
    """Every way from standstill to the target without another standstill between."""
    speed, time_s = ride.speed_mps, ride.time_s
    starts = np.flatnonzero((speed[:-1] == 0) & (speed[1:] > 0))
    runs = []
    for k, start in enumerate(starts):
        stop = starts[k + 1] if k + 1 < starts.size else speed.size
        above = np.flatnonzero(speed[start:stop] >= TARGET.to_mps)
        if above.size:
            j = start + int(above[0])
            share = (TARGET.to_mps - speed[j - 1]) / (speed[j] - speed[j - 1])
            end_s = float(time_s[j - 1] + share * ride.step_s)
            runs.append(TrueRun(float(time_s[start]), end_s - float(time_s[start]), _open(ride, int(start), int(j))))
    return runs


def _open(ride: TrueRide, start: int, end: int) -> bool:
    """Whether the engine gave all it had wherever a gear was in."""
    machine = ride.machine
    part = slice(start, end)
    gear = ride.gear[part]
    per_m = np.array((0.0, *machine.overall_ratios))[gear] * 2 * np.pi / machine.circumference_m
    most = np.interp(ride.engine_rpm[part], machine.torque_rpm, machine.torque_nm) * per_m * machine.efficiency
    return bool(np.mean(ride.thrust_n[part][gear > 0] >= 0.9 * most[gear > 0]) > 0.9)


def trace_of(ride: TrueRide, receiver: SpeedChannel, rng: np.random.Generator) -> Trace:
    """Return the trace that a receiver records, with the true gears."""
    observed = observe_track(ride, receiver, rng)
    s, truth = observed.recording.samples, observed.truth
    return make_trace(
        truth["time_s"].to_numpy(),
        s["speed_mps"].to_numpy(),
        file="ride",
        speed_sd_mps=np.full(len(s), receiver.step_mps / 12**0.5),
        gear=truth["gear"].to_numpy(),
        elevation_m=s["elevation_m"].to_numpy(),
        latitude_deg=s["latitude_deg"].to_numpy(),
        longitude_deg=s["longitude_deg"].to_numpy(),
    )
