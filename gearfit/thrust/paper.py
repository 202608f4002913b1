"""Puts the swap on paper together: records for report, findings and text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.quantiles import band, estimate
from gearfit.machine.bike import Bike
from gearfit.records.recording import RideSetup
from gearfit.records.results import Estimate, SetupResult
from gearfit.records.thrust_results import Gearing, GearThrust, HardestRiding, SpeedCourse, SwapOnPaper, TorqueCurve
from gearfit.thrust.clock import Clock
from gearfit.thrust.limits import bounds_that_count
from gearfit.thrust.machine import Machine
from gearfit.thrust.resistance import after_coasting_mps
from gearfit.thrust.ridden import Ridden, ridden_thrust
from gearfit.thrust.run import Way
from gearfit.thrust.swap import Asked, Draws, drawn, predict_spans, shift_habit
from gearfit.units import to_mps

FloatArray = NDArray[np.float64]

#: Spans that are predicted where nobody asks for others.
USUAL_SPANS: Final = (
    Asked(0.0, to_mps(60.0, "mph")),
    Asked(0.0, to_mps(100.0, "kmh")),
    Asked(to_mps(60.0, "kmh"), to_mps(100.0, "kmh")),
)
_POINTS: Final = 60
_MOST_MPS: Final = 70.0


def on_paper(
    bike: Bike,
    ride: RideSetup,
    result: SetupResult,
    other: str,
    factor: float,
    asked: Sequence[Asked] = USUAL_SPANS,
) -> SwapOnPaper | HardestRiding | None:
    """Predict another gearing from the ride of one setup.

    Parameters
    ----------
    bike : Bike
        Mass, limit and balance count.
    ride, result : RideSetup, SetupResult
        The ride and what its fit found.
    other : str
        What to call the other gearing.
    factor : float
        Its road speed at the same engine speed against that ridden, the same in every gear.
    asked : sequence of Asked
        Spans.

    Returns
    -------
    SwapOnPaper, HardestRiding or None
        The riding without times where it is not seen to be full throttle; None where there is no hard riding, or first
        gear (for the start) was not found.
    """
    ridden = ridden_thrust(bike, ride, result)
    if ridden is None or not ridden.best.speed_per_rpm_mps:
        return None
    if ridden.short is not None:
        return ridden.short
    draws = drawn(bike, ridden)
    factors = (factor,) * len(ridden.best.speed_per_rpm_mps)
    spans, ways, machines = predict_spans(draws, factors, asked)
    reach = min(max([span.to_mps for span in asked] + [_reach(machine) for machine in machines]), _MOST_MPS)
    speeds = np.linspace(0.0, reach, _POINTS)
    one, two = (
        _gearing(name, machine, ridden, ways and ways[k], draws)
        for k, (name, machine) in enumerate(zip((result.setup.name, other), machines, strict=True))
    )
    rpm, seconds = shift_habit(ridden)
    lifts, slips = bounds_that_count(tuple(zip(machines, (1.0, 1 / factor), strict=True)), draws.launch)
    return SwapOnPaper(
        reference=one,
        other=two,
        thrust_percent=100 * (1 / factor - 1),
        speed_percent=100 * (factor - 1),
        mass_kg=ridden.mass_kg,
        mass_stated=bike.total_kg is not None,
        curve=_curve(draws, ridden),
        resistance_mps=_tuple(speeds),
        resistance_n=_tuple(ridden.mass_kg * ridden.best.resistance_mps2(speeds)[0]),
        drag_from="coasting" if ridden.coasted else "assumed" if bike.motion.drag_area_m2 is None else "stated",
        starts=len(ridden.launches),
        shifts=len(ridden.shifts),
        stretches=len(ridden.stretches),
        shift_rpm=_of_runs(rpm),
        shift_s=_of_runs(seconds),
        shift_runs=len(rpm),
        used_shift_rpm=float(np.mean(rpm)) if rpm else float(draws.rule.shift_rpm[0, 0]),
        used_shift_s=float(draws.rule.shift_s[0]),
        limit_rpm=ridden.best.limit_rpm,
        held_back=ridden.held_back > 0.5,
        held_back_chance=ridden.held_back,
        lift_capped=lifts,
        grip_capped=slips,
        spans=tuple(spans),
    )


def swap_on_paper(
    bike: Bike,
    ride: RideSetup,
    result: SetupResult,
    other: str,
    factor: float,
    asked: Sequence[Asked] = USUAL_SPANS,
) -> SwapOnPaper | None:
    """Predict as `on_paper` does; None as well where full throttle is not seen."""
    found = on_paper(bike, ride, result, other, factor, asked)
    return found if isinstance(found, SwapOnPaper) else None


def _tuple(values: FloatArray) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def _of_runs(seen: list[float]) -> Estimate | None:
    if len(seen) < 2:
        return None
    return estimate(float(np.mean(seen)), float(np.std(seen, ddof=1)) / len(seen) ** 0.5, len(seen) - 1)


def _reach(machine: Machine) -> float:
    return machine.limit_rpm * machine.speed_per_rpm_mps[-1]


def _range(machine: Machine, gear: int) -> FloatArray:
    per_rpm = machine.speed_per_rpm_mps[gear - 1]
    return np.linspace(machine.curve.low_rpm, min(machine.limit_rpm, machine.curve.high_rpm), _POINTS) * per_rpm


def _curve(draws: Draws, ridden: Ridden) -> TorqueCurve:
    curve = ridden.fit.curve
    rpm = np.linspace(curve.low_rpm, curve.high_rpm, _POINTS)
    torque = ridden.mass_kg * (draws.machine.torque_per_kg @ curve.basis(rpm).T)
    lo, hi = band(torque)
    return TorqueCurve(_tuple(rpm), _tuple(torque[0]), _tuple(lo), _tuple(hi))


def _gearing(name: str, machine: Machine, ridden: Ridden, way: Way | None, draws: Draws) -> Gearing:
    gears = range(1, len(machine.speed_per_rpm_mps) + 1)
    thrusts = []
    for gear in gears:
        speeds = _range(machine, gear)
        thrust = ridden.mass_kg * machine.thrust_mps2(gear, speeds * (1 - 1e-12))
        lo, hi = band(thrust)
        thrusts.append(GearThrust(gear, _tuple(speeds), _tuple(thrust[0]), _tuple(lo), _tuple(hi)))
    return Gearing(
        name=name,
        thrust=tuple(thrusts),
        best_shift_mps=tuple(_crossing(machine, gear) for gear in gears[:-1]),
        top_mps=_top(machine),
        course=None if way is None else _course(machine, way, draws),
    )


def _crossing(machine: Machine, gear: int) -> float | None:
    """Speed from which the next gear accelerates harder; None where the limit comes first."""
    last = machine.limit_rpm * machine.speed_per_rpm_mps[gear - 1] * (1 - 1e-9)
    first = machine.curve.low_rpm * machine.speed_per_rpm_mps[gear]
    if first >= last:
        return None
    machine = machine.best()
    speeds = np.linspace(first, last, 400)
    ahead = machine.acceleration_mps2(gear, speeds)[0] - machine.acceleration_mps2(gear + 1, speeds)[0]
    place = np.flatnonzero((ahead[:-1] > 0) & (ahead[1:] <= 0))
    return float(speeds[place[0] + 1]) if place.size else None


def _top(machine: Machine) -> float | None:
    """Highest speed at which thrust meets the resistance, over the gears; None where only the limit ends it."""
    machine, found = machine.best(), []
    for gear, per_rpm in enumerate(machine.speed_per_rpm_mps, start=1):
        last = min(machine.limit_rpm, machine.curve.high_rpm) * per_rpm * (1 - 1e-9)
        speeds = np.linspace(machine.curve.low_rpm * per_rpm, last, 800)
        pull = machine.acceleration_mps2(gear, speeds)[0]
        place = np.flatnonzero((pull[:-1] > 0) & (pull[1:] <= 0))
        found.append(
            (float(speeds[place[-1] + 1]), True) if place.size else (last, False) if pull[-1] > 0 else (0.0, True)
        )
    speed, crossed = max(found)
    return speed if crossed and speed > 0 else None


def _course(machine: Machine, way: Way, draws: Draws) -> SpeedCourse | None:
    top = float(np.max(np.where(np.isfinite(way.end_mps[0]), way.end_mps[0], 0.0)))
    machine = machine.best()
    clocks = machine.clocks(min(max(top, 30.0), _MOST_MPS))
    time, speed, gears, marks = [0.0], [0.0], [0], []
    free = 1 + machine.wheels
    for k, table in enumerate(clocks):
        begin, low, high = way.begin_s[0, k], way.begin_mps[0, k], way.end_mps[0, k]
        last = k == len(clocks) - 1 or not np.isfinite(way.end_s[0, k])
        if not np.isfinite(begin):
            break
        high = min(float(high), float(table.speed_mps[-2]))
        grid = np.linspace(float(low), max(high, float(low)), 30)
        one = np.array([float(_row(table, value) - _row(table, float(low))) for value in grid])
        good = np.isfinite(one) & (one < 30.0)
        time += _tuple(float(begin) + one[good])
        speed += _tuple(grid[good])
        gears += [k + 1] * int(good.sum())
        if last or not good[-1]:
            break
        marks.append((time[-1], speed[-1]))
        shift = draws.rule.shift_s[:1]
        slowed = after_coasting_mps(grid[-1:], machine.rolling_mps2[:1] / free, machine.air_per_m[:1] / free, shift)
        time.append(float(time[-1] + shift[0]))
        speed.append(float(slowed[0]))
        gears.append(0)
    if len(time) < 3:
        return None
    return SpeedCourse(tuple(time), tuple(speed), tuple(gears), tuple(m[0] for m in marks), tuple(m[1] for m in marks))


def _row(table: Clock, speed: float) -> float:

    return float(table.at(np.full(table.time_s.shape[0], speed))[0])
