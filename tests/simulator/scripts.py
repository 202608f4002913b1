"""Whole rides, put together from manoeuvres."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from tests.simulator.machine import Machine
from tests.simulator.manoeuvres import Coast, EngineBraking, Hold, Launch, Manoeuvre, RollOn, Standstill, Stop, Traffic
from tests.simulator.ride import TrueRide, simulate
from tests.simulator.road import Road, hilly_road

#: Highest speed of the scripts outside the city, in m/s (about 120 km/h).
FASTEST_MPS: Final = 33.0


def hold_plan(machine: Machine, shares: tuple[float, ...], gears: tuple[int, ...] = ()) -> list[tuple[int, float]]:
    """Plan which engine speed to hold in which gear.

    Parameters
    ----------
    machine : Machine
        For gears, limit and speeds.
    shares : tuple of float
        Engine speeds as shares of the limit; up through the gears once for each. Slower where that would be beyond
        `FASTEST_MPS`.
    gears : tuple of int
        Gears to hold (1 = first); all by default.

    Returns
    -------
    list of (gear, engine speed in rev/min)
    """
    plan: list[tuple[int, float]] = []
    for share in shares:
        for gear in gears or range(1, machine.gear_count + 1):
            fastest_rpm = machine.engine_rpm(FASTEST_MPS * (0.8 + 0.2 * share), gear)
            plan.append((gear, min(share * machine.limit_rpm, fastest_rpm)))
    return plan


def holds(plan: Sequence[tuple[int, float]], duration_s: float) -> list[Manoeuvre]:
    """Return the manoeuvres that hold each (gear, engine speed) of a plan for `duration_s`."""
    return [Hold(gear, engine_rpm, duration_s) for gear, engine_rpm in plan]


def ten_minute_ride(
    rng: np.random.Generator,
    machine: Machine,
    *,
    duration_s: float = 600.0,
    grade_sd: float = 0.012,
    starts: int = 2,
    shift_share: float = 0.88,
) -> TrueRide:
    """Standing starts, holds in each gear, roll-ons, engine braking, coasting, then traffic until the time is up.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of everything random.
    machine : Machine
        On what.
    duration_s : float
        Length of the ride.
    grade_sd : float
        Standard deviation of the road's grade (0 = level).
    starts : int
        Number of full-throttle starts to about 90 km/h.
    shift_share : float
        Engine speed at which those shift, as a share of the limit.
    """
    top = machine.gear_count
    script: list[Manoeuvre] = [Standstill(float(rng.uniform(8.0, 12.0)))]
    for _ in range(starts):
        script += [Launch(25.0, shift_share * machine.limit_rpm * float(rng.uniform(0.97, 1.03)))]
        script += [Stop(), Standstill(float(rng.uniform(4.0, 8.0)))]
    script += holds(hold_plan(machine, (0.45, 0.6)), 6.0)
    slow_rpm = 0.35 * machine.limit_rpm
    for gear in (top - 2, top - 1):
        to_rpm = min(0.75 * machine.limit_rpm, machine.engine_rpm(FASTEST_MPS, gear))
        script += [RollOn(gear, slow_rpm, to_rpm), EngineBraking(slow_rpm)]
    script += [Coast(6.0), Traffic(duration_s, 6.0, 27.0)]
    return simulate(machine, script, rng, road=_road(rng, grade_sd), duration_s=duration_s)


def full_throttle_ride(
    rng: np.random.Generator,
    machine: Machine,
    *,
    starts: int = 5,
    to_mps: float = 30.0,
    shift_share: float = 0.88,
    shift_sd: float = 0.02,
    duration_s: float = 420.0,
    grade_sd: float = 0.01,
) -> TrueRide:
    """Standing starts through the gears, each followed by coasting in neutral and a stop, then ordinary riding.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of everything random.
    machine : Machine
        On what.
    starts : int
        Number of full-throttle starts.
    to_mps : float
        Speed at which each ends.
    shift_share, shift_sd : float
        Engine speed on changing up as a share of the limit, and its relative scatter from start to start.
    duration_s : float
        Length of the ride.
    grade_sd : float
        Standard deviation of the road's grade (0 = level).
    """
    script: list[Manoeuvre] = [Standstill(6.0)]
    for _ in range(starts):
        shift_rpm = machine.limit_rpm * shift_share * float(1.0 + shift_sd * rng.standard_normal())
        script += [Launch(to_mps, shift_rpm), Coast(4.0), Stop(), Standstill(float(rng.uniform(4.0, 8.0)))]
    script += holds(hold_plan(machine, (0.45,)), 6.0)
    script += [Coast(6.0), Traffic(duration_s, 6.0, 27.0)]
    return simulate(machine, script, rng, road=_road(rng, grade_sd), duration_s=duration_s)


def city_ride(
    rng: np.random.Generator, machine: Machine, *, duration_s: float = 600.0, grade_sd: float = 0.008
) -> TrueRide:
    """Nothing but traffic up to about 60 km/h with many stops; the top gears may never be used."""
    script: list[Manoeuvre] = [Standstill(5.0), Traffic(duration_s, 4.0, 17.0, stop_share=0.3, up_share=0.5)]
    return simulate(machine, script, rng, road=_road(rng, grade_sd), duration_s=duration_s)


def holds_only(
    rng: np.random.Generator,
    machine: Machine,
    *,
    plan: Sequence[tuple[int, float]] | None = None,
    hold_s: float = 10.0,
) -> TrueRide:
    """Hold the (gear, engine speed) of a plan one after the other on the level, and nothing else.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of everything random.
    machine : Machine
        On what.
    plan : sequence of (gear, engine speed in rev/min), optional
        Half the limit in each gear by default; `observe_sheet` takes the same plan.
    hold_s : float
        Length of each hold.
    """
    script = [Standstill(5.0), *holds(plan or hold_plan(machine, (0.5,)), hold_s), Stop(), Standstill(3.0)]
    return simulate(machine, script, rng)


def _road(rng: np.random.Generator, grade_sd: float) -> Road:
    return hilly_road(rng, grade_sd) if grade_sd > 0.0 else Road()
