"""A simulated ride: what truly happened, before anything recorded it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.simulator.machine import Machine
from tests.simulator.manoeuvres import Manoeuvre
from tests.simulator.motion import STEP_S, Motion
from tests.simulator.rider import Habits, Rider
from tests.simulator.road import Floats, Road


@dataclass(frozen=True, eq=False)
class TrueRide:
    """What truly happened; every array has shape (n,), evenly spaced in time.

    Attributes
    ----------
    machine : Machine
        On what; its ratios and circumference are the truth that an analysis should find.
    road : Road
        Where.
    time_s, speed_mps, engine_rpm : ndarray of float
        Seconds from the start, road speed, engine speed.
    gear : ndarray of int
        Gear that drives the wheel (1 = first); 0 in neutral, with the clutch slipping or open, and in a shift.
    thrust_n : ndarray of float
        Force of the driven wheel on the road, brakes aside.
    position_m, elevation_m : ndarray of float
        Way ridden, and height.
    """

    machine: Machine
    road: Road
    time_s: Floats
    speed_mps: Floats
    engine_rpm: Floats
    gear: NDArray[np.int64]
    thrust_n: Floats
    position_m: Floats
    elevation_m: Floats

    @property
    def step_s(self) -> float:
        """Spacing of the samples in seconds."""
        return float(self.time_s[1] - self.time_s[0])

    def gear_at(self, time_s: Floats) -> NDArray[np.int64]:
        """Gear at the moments `time_s`, shape (m,); 0 as well where the samples on both sides differ or lie outside."""
        place = np.asarray(time_s, dtype=np.float64) / self.step_s
        left = np.clip(np.floor(place).astype(np.int64), 0, self.gear.size - 1)
        right = np.clip(np.ceil(place).astype(np.int64), 0, self.gear.size - 1)
        inside = (place >= 0) & (place <= self.gear.size - 1)
        return np.where(inside & (self.gear[left] == self.gear[right]), self.gear[left], 0)


def simulate(
    machine: Machine,
    script: Sequence[Manoeuvre],
    rng: np.random.Generator,
    *,
    road: Road | None = None,
    habits: Habits | None = None,
    duration_s: float | None = None,
    start_mps: float = 0.0,
    step_s: float = STEP_S,
) -> TrueRide:
    """Ride a script.

    Parameters
    ----------
    machine : Machine
        On what.
    script : sequence of Manoeuvre
        What to do, in order.
    rng : numpy.random.Generator
        Source of everything random; the same state gives the same ride.
    road : Road, optional
        Where; level by default.
    habits : Habits, optional
        How the rider rides.
    duration_s : float, optional
        Cut the ride at this time; a script that ends earlier gives a shorter ride.
    start_mps : float
        Speed at the start, in neutral.
    step_s : float
        Step of the equation of motion in seconds.

    Returns
    -------
    TrueRide
        At least two samples.

    Raises
    ------
    ValueError
        The script is over before two steps are done.
    """
    motion = Motion(machine, road or Road(), step_s, start_mps)
    rider = Rider(motion, rng, habits)
    for manoeuvre in script:
        manoeuvre.ride(rider)
        if duration_s is not None and motion.time >= duration_s:
            break
    n = len(motion.speeds) if duration_s is None else min(len(motion.speeds), round(duration_s / step_s) + 1)
    if n < 2:
        raise ValueError("the script is over before two steps are done; give it at least one manoeuvre that lasts")
    position_m = np.array(motion.positions[:n])
    return TrueRide(
        machine=machine,
        road=motion.road,
        time_s=np.arange(n, dtype=np.float64) * step_s,
        speed_mps=np.array(motion.speeds[:n]),
        engine_rpm=np.array(motion.rpms[:n]),
        gear=np.array(motion.gears[:n], dtype=np.int64),
        thrust_n=np.array(motion.thrusts[:n]),
        position_m=position_m,
        elevation_m=motion.road.elevation_m(position_m),
    )
