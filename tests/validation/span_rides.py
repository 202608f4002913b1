"""Rides with standing starts and roll-ons among stops, U-turns, traffic and dropouts, and the runs' true times."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from gearfit.fitting.setup_fit import fit_setup, gather_setup, sample_frame
from gearfit.fitting.which_gear.ladder import from_teeth
from gearfit.records.recording import RideSetup
from gearfit.timed.asked import Span
from gearfit.timed.find import FoundRuns, find_runs, runs_in
from gearfit.timed.noise import noise_in
from gearfit.timed.trace import make_trace
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, commuter_twin, trail_bike
from tests.simulator.manoeuvres import Launch, Manoeuvre, RollOn, Standstill, Stop, Traffic, UTurn
from tests.simulator.recorder import observe_track
from tests.simulator.ride import TrueRide, simulate

START, ROLL_ON = Span(0.0, 100 / 3.6), Span(60 / 3.6, 100 / 3.6)
STARTS = 4
#: Machine, share of its limit at which it is shifted (none changes gear within 1 km/h of 100 km/h), gear of roll-ons.
MACHINES = ((close_ratio_single, 0.93, 3), (commuter_twin, 0.96, 3), (trail_bike, 0.80, 5))
_ROLL_ON_MPS = (15.8, 29.5)
#: Means of drive slip at 1 m/s^2 and of the tyre's growth up to 100 km/h, shares; drawn from exponential laws.
_SLIP, _GROWTH = 0.0005, 0.001
#: Name, receiver, and whether the engine speed stands in the file as well.
USUAL = SpeedChannel(latency_sd_s=0.005, dropouts_per_minute=0.4, dropout_s=4.0)
SLOW = replace(USUAL, rate_hz=1.0, latency_sd_s=0.02)
RECEIVERS = (
    ("25 Hz", replace(USUAL, rate_hz=25.0), True),
    ("10 Hz", USUAL, True),
    ("10 Hz, good reception (half the noise)", replace(USUAL, white_sd_mps=0.02, correlated_sd_mps=0.04), True),
    ("10 Hz, steps of 1 km/h", replace(USUAL, step_mps=1 / 3.6), True),
    ("5 Hz", replace(USUAL, rate_hz=5.0), True),
    ("1 Hz", SLOW, True),
    ("10 Hz, no engine speed", USUAL, False),
    ("1 Hz, no engine speed", SLOW, False),
)

Kind = Literal["standing start", "roll-on", "through the gears"]


@dataclass(frozen=True)
class TrueRun:
    """How it was ridden, start, time to the target and whether the throttle was open all the way."""

    kind: Kind
    start_s: float
    time_s: float
    open_throttle: bool


def ride_of(seed: int, base: int) -> TrueRide:
    """Ride once: four full-throttle starts and roll-ons, traffic with stops and U-turns between them."""
    rng = np.random.default_rng([base, seed])
    build, share, gear = MACHINES[seed % len(MACHINES)]
    machine = build("before")
    machine = replace(
        machine,
        slip_per_n=float(rng.exponential(_SLIP)) / machine.mass_kg,
        growth_per_mps2=float(rng.exponential(_GROWTH)) / START.to_mps**2,
    )
    roll_on = RollOn(gear, *(machine.engine_rpm(speed, gear) for speed in _ROLL_ON_MPS))
    script: list[Manoeuvre] = [Standstill(6.0)]
    until_s = 6.0
    for _ in range(STARTS):
        until_s += 90.0
        script += [
            _Today(31.0, share * machine.limit_rpm, float(rng.normal(0, 0.04)), float(rng.normal(0, 0.08))),
            UTurn(float(rng.uniform(3, 8))),
            roll_on,
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


def true_runs(ride: TrueRide, span: Span) -> list[TrueRun]:
    """Every way from the lower speed to the target without falling back to the lower one."""
    speed, time_s = ride.speed_mps, ride.time_s
    starts = np.flatnonzero((speed[:-1] <= span.from_mps) & (speed[1:] > span.from_mps))
    runs = []
    for k, start in enumerate(starts):
        stop = starts[k + 1] if k + 1 < starts.size else speed.size
        above = np.flatnonzero(speed[start:stop] >= span.to_mps)
        if above.size:
            j = int(start + above[0])
            begun_s = float(time_s[start]) if span.from_mps == 0 else _moment(ride, int(start) + 1, span.from_mps)
            end_s = _moment(ride, j, span.to_mps)
            kind: Kind = "standing start" if span.from_mps == 0 else _kind(ride, int(start), j)
            runs.append(TrueRun(kind, begun_s, end_s - begun_s, _open(ride, int(start), j)))
    return runs


def _moment(ride: TrueRide, after: int, speed_mps: float) -> float:
    low, high = ride.speed_mps[after - 1], ride.speed_mps[after]
    return float(ride.time_s[after - 1] + (speed_mps - low) / (high - low) * ride.step_s)


def _kind(ride: TrueRide, start: int, end: int) -> Kind:
    return "roll-on" if np.unique(ride.gear[start:end]).size == 1 else "through the gears"


def _open(ride: TrueRide, start: int, end: int) -> bool:
    """Whether the engine gave all it had wherever a gear was in."""
    machine = ride.machine
    part = slice(start, end)
    gear = ride.gear[part]
    per_m = np.array((0.0, *machine.overall_ratios))[gear] * 2 * np.pi / machine.circumference_m
    most = np.interp(ride.engine_rpm[part], machine.torque_rpm, machine.torque_nm) * per_m * machine.efficiency
    return bool(np.mean(ride.thrust_n[part][gear > 0] >= 0.9 * most[gear > 0]) > 0.9)


@dataclass(frozen=True, eq=False)
class Found:
    """What was found in a recorded ride, the times of its speeds and when the recording began."""

    runs: FoundRuns
    time_s: np.typing.NDArray[np.float64]
    begun_s: float


def found_in(ride: TrueRide, receiver: SpeedChannel, with_engine: bool, rng: np.random.Generator) -> Found:
    """Record a ride and find its runs as the report does; without engine speed from the trace alone."""
    observed = observe_track(ride, receiver, rng, rpm=RpmChannel(rate_hz=receiver.rate_hz) if with_engine else None)
    recording, s = observed.recording, observed.recording.samples
    time_s, begun_s = s["time_s"].to_numpy(), float(observed.truth["time_s"].iloc[0])
    if with_engine:
        bike = ride.machine.bike
        setup = RideSetup(bike.setup("before"), (recording,))
        fit = fit_setup(gather_setup(setup), from_teeth(bike, setup.setup))
        return Found(find_runs(setup, fit, sample_frame(fit), (START, ROLL_ON)), time_s, begun_s)
    trace = make_trace(
        time_s,
        s["speed_mps"].to_numpy(),
        file=recording.file,
        speed_sd_mps=np.full(len(s), receiver.step_mps / 12**0.5),
        elevation_m=s["elevation_m"].to_numpy(),
        latitude_deg=s["latitude_deg"].to_numpy(),
        longitude_deg=s["longitude_deg"].to_numpy(),
    )
    return Found(runs_in([trace], [noise_in(trace, None)], (START, ROLL_ON)), time_s, begun_s)
