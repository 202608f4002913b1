"""Simulated rides as the fit receives them, with their truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.ratios.timed import fit_timed
from gearfit.fitting.ratios.timed_fit import TimedFit
from gearfit.fitting.which_gear.ladder import from_teeth
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, commuter_twin, old_five_speed, trail_bike
from tests.simulator.recorder import Logger, observe_log
from tests.simulator.scripts import ten_minute_ride

FloatArray = NDArray[np.float64]

MACHINES: tuple[Callable[[str], Machine], ...] = (trail_bike, commuter_twin, close_ratio_single, old_five_speed)


@dataclass(frozen=True, eq=False)
class Ridden:
    """Streams of one ride; true ln(n/v) of each gear without slip; true lead of the engine-speed channel."""

    machine: Machine
    streams: tuple[Stream, ...]
    true_level: FloatArray
    lag_s: float

    def fit(self, *, teeth_known: bool) -> TimedFit:
        bike = self.machine.bike
        ladder = from_teeth(bike, bike.setup(self.machine.setup)) if teeth_known else None
        return fit_timed(self.streams, ladder)


@cache
def ridden(build: Callable[[str], Machine], seed: int, logger: Logger, setup: str = "before") -> Ridden:
    rng = np.random.default_rng([seed, setup == "after"])
    machine = build(setup)
    log = observe_log(ten_minute_ride(rng, machine, duration_s=300.0), logger, rng)
    per_1000rpm = [machine.speed_per_1000rpm_mps(gear) for gear in range(1, machine.gear_count + 1)]
    return Ridden(machine, gather([log.recording]).streams, np.log(1000 / np.array(per_1000rpm)), log.lag_s)
