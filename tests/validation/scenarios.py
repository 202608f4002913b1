"""Scenarios of the estimator's validation study: machine, ride, instruments, what is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from gearfit.recording import Recording
from gearfit.simulation.instruments import RpmChannel, SpeedChannel
from gearfit.simulation.machine import Machine
from gearfit.simulation.machines import close_ratio_single, commuter_twin, trail_bike
from gearfit.simulation.recorder import Logger, Observation, observe_log, observe_track
from gearfit.simulation.ride import TrueRide
from gearfit.simulation.scripts import city_ride, ten_minute_ride
from gearfit.simulation.sheets import HandReading, observe_sheet
from gearfit.units import MPS_PER_KMH

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
    """

    name: str
    build: Callable[[str], Machine]
    speed: SpeedChannel = field(default_factory=SpeedChannel)
    rpm: RpmChannel = field(default_factory=RpmChannel)
    script: Script = ten_minute_ride
    ladder: bool = True
    polled: bool = False

    def observe(self, rng: np.random.Generator, setup: str) -> tuple[Machine, Observation]:
        """Ride once and record it."""
        machine = self.build(setup)
        ride = self.script(rng, machine)
        if self.polled:
            return machine, observe_log(ride, Logger(10.0, self.speed, self.rpm, in_turn=True), rng)
        return machine, observe_track(ride, self.speed, rng, rpm=self.rpm)


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
)
