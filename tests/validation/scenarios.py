"""Scenarios of the estimator's validation study: machine, ride, instruments, what is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from gearfit.records.recording import Recording
from gearfit.units import MPS_PER_KMH
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, commuter_twin, trail_bike
from tests.simulator.recorder import Logger, Observation, observe_log, observe_track
from tests.simulator.ride import TrueRide
from tests.simulator.scripts import city_ride, ten_minute_ride
from tests.simulator.sheets import HandReading, observe_sheet

SETUPS = ("before", "after")
MACHINES = (trail_bike, commuter_twin, close_ratio_single)
SCRIPTS = (ten_minute_ride, city_ride)
Script = Callable[[np.random.Generator, Machine], TrueRide]


@dataclass(frozen=True)
class Scenario:
    """One row of the study.

    Attributes
    ----------
    name : str
        As the table shows it.
    build : callable
        The invented machine, by setup.
    speed, rpm : SpeedChannel, RpmChannel
        The instruments.
    script : callable
        The ride (not used for sheets).
    ladder : bool
        Whether tooth counts are known.
    polled : bool
        A polled logger that holds values, instead of a receiver's track with engine speed.
    from_gear : int
        Lowest gear that was recorded: the recorder was off in the lower ones.
    last_s : float
        Length of the ride that was recorded.
    """

    name: str
    build: Callable[[str], Machine]
    speed: SpeedChannel = field(default_factory=SpeedChannel)
    rpm: RpmChannel = field(default_factory=RpmChannel)
    script: Script = ten_minute_ride
    ladder: bool = True
    polled: bool = False
    from_gear: int = 1
    last_s: float = 600.0

    def observe(self, seed: int, setup: str) -> tuple[Machine, Observation]:
        """Record the ride with this seed; scenarios with the same machine and script record the same ride."""
        machine, ride = _ridden(self.build, self.script, seed, setup)
        rng = np.random.default_rng([20_000 + SCENARIOS.index(self), seed, SETUPS.index(setup)])
        if self.polled:
            observation = observe_log(ride, Logger(10.0, self.speed, self.rpm, in_turn=True), rng)
        else:
            observation = observe_track(ride, self.speed, rng, rpm=self.rpm)
        gear = observation.truth["gear"].to_numpy()
        kept = (gear == 0) | (gear >= self.from_gear)
        kept &= observation.recording.samples["time_s"].to_numpy() <= self.last_s
        samples = observation.recording.samples[kept].reset_index(drop=True)
        truth = observation.truth[kept].reset_index(drop=True)
        return machine, replace(observation, recording=replace(observation.recording, samples=samples), truth=truth)


@lru_cache(maxsize=16)
def _ridden(build: Callable[[str], Machine], script: Script, seed: int, setup: str) -> tuple[Machine, TrueRide]:
    machine = build(setup)
    kind = [MACHINES.index(build), SCRIPTS.index(script), seed, SETUPS.index(setup)]
    return machine, script(np.random.default_rng([60_000, *kind]), machine)


SHEET_PLAN = tuple((gear, rpm) for _ in range(3) for rpm in (4000.0, 5000.0) for gear in range(1, 7))


def observe_sheets(rng: np.random.Generator, setup: str) -> tuple[Machine, Recording]:
    """Read six gears at two engine speeds three times, to 1 mph."""
    machine = commuter_twin(setup)
    return machine, observe_sheet(machine, SHEET_PLAN, rng, reading=HandReading())


SCENARIOS = (
    Scenario("10 Hz receiver, trail bike", trail_bike),
    Scenario("5 Hz receiver, commuter", commuter_twin, SpeedChannel(rate_hz=5.0)),
    Scenario("1 Hz receiver, commuter", commuter_twin, SpeedChannel(1.0, 0.3, 0.05, 0.15, 2.0)),
    Scenario("1 Hz receiver, close ratios", close_ratio_single, SpeedChannel(1.0, 0.3, 0.05, 0.15, 2.0)),
    Scenario("25 Hz receiver, close ratios", close_ratio_single, SpeedChannel(25.0, 0.1, 0.05, 0.05, 1.0)),
    Scenario("10 Hz, poor reception (0.3 m/s over 3 s)", commuter_twin, SpeedChannel(10.0, 0.4, 0.1, 0.3, 3.0)),
    Scenario(
        "10 Hz, latency 0.5 s, dropouts, 50 rpm steps, tachometer 2 % high",
        trail_bike,
        SpeedChannel(latency_s=0.5, dropouts_per_minute=1.0),
        RpmChannel(step_rpm=50.0, scale_error=0.02),
    ),
    Scenario("10 Hz, speed rounded to 1 km/h", commuter_twin, SpeedChannel(step_mps=MPS_PER_KMH)),
    Scenario("10 Hz, speed cut to 1 km/h", close_ratio_single, SpeedChannel(step_mps=MPS_PER_KMH, floored=True)),
    Scenario(
        "polled logger, each channel once a second, km/h cut",
        commuter_twin,
        SpeedChannel(1.0, 0.1, 0.0, 0.02, 1.0, step_mps=MPS_PER_KMH, floored=True),
        RpmChannel(rate_hz=1.0, noise_sd_rpm=5.0),
        polled=True,
    ),
    Scenario("city, 10 Hz, commuter", commuter_twin, script=city_ride),
    Scenario("10 Hz, trail bike, no tooth counts", trail_bike, ladder=False),
    Scenario("10 Hz, close ratios, no tooth counts", close_ratio_single, ladder=False),
    Scenario("city, 10 Hz, close ratios, no tooth counts", close_ratio_single, script=city_ride, ladder=False),
    Scenario(
        "short: 1 Hz, five minutes, trail bike", trail_bike, SpeedChannel(1.0, 0.3, 0.05, 0.15, 2.0), last_s=300.0
    ),
    Scenario("short: 10 Hz, ninety seconds, commuter", commuter_twin, last_s=90.0),
    Scenario("10 Hz, commuter, third gear and up only", commuter_twin, from_gear=3),
    Scenario(
        "1 Hz, close ratios, third gear and up only",
        close_ratio_single,
        SpeedChannel(1.0, 0.3, 0.05, 0.15, 2.0),
        from_gear=3,
    ),
)
