"""The swap on paper: the same rider on the same machine with other sprockets, run after run, with what is not known.

Each draw takes torque, drag and turning parts from the fit's covariance, launch, shift speed and shift time from what
was seen of them, and rides both gearings with it: what is common to both cancels in the difference. The rider's own
scatter of the shift speed is averaged over, since near a target speed it decides whether one more shift is needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.quantiles import band
from gearfit.machine.bike import Bike
from gearfit.records.estimate import Estimate
from gearfit.records.thrust_results import SpanPrediction
from gearfit.thrust.clock import Clock
from gearfit.thrust.limits import bounded
from gearfit.thrust.machine import Machine
from gearfit.thrust.ridden import Ridden, limit_rpm, machine_of
from gearfit.thrust.run import Launch, Rule, Way, first_time_s, through_the_gears

FloatArray = NDArray[np.float64]

DRAWS: Final = 480
#: Quantiles of a normal scatter at the middles of seven equal shares: their mean averages over it.
_POINTS: Final = np.array([-1.4652, -0.7916, -0.3661, 0.0, 0.3661, 0.7916, 1.4652])
_MIDDLE: Final = 3
#: Where fewer than two shifts or launches were seen: share of the limit, shift time, their spreads.
USUAL_SHIFT_SHARE: Final = 0.92
_SHIFT_RPM_SD: Final = 0.03
USUAL_SHIFT_S: Final = 0.35
_SHIFT_S_SD: Final = 0.12
_LAUNCH_SD: Final = 0.12
#: A launch whose thrust is this near that of a first gear held back is held back by the same.
_SAME_CAP: Final = 0.1
#: Error of a difference that the model does not know of, share of the time (ours, tried on simulated rides).
_LEFT_OUT: Final = 0.005
#: Shifts of one gear count against this many of the mean.
_SHRUNK_BY: Final = 2.0
_SEED: Final = 20_260_510


@dataclass(frozen=True)
class Asked:
    """A span to be predicted: speeds, how it is ridden ("roll-on" stays in its gear), gears it was ridden in."""

    from_mps: float
    to_mps: float
    how: str = ""
    gears: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class Draws:
    """Machine and rider, drawn; row 0 is the best guess."""

    machine: Machine
    rule: Rule
    launch: Launch | None
    scatter_rpm: FloatArray


def drawn(bike: Bike, ridden: Ridden) -> Draws:
    """Draw machine and rider from what the ride leaves open (the same draws each time)."""
    rng = np.random.default_rng(_SEED)
    best = ridden.best
    limit = limit_rpm(bike, ridden.fit)
    values = _values(rng, ridden)
    machine = machine_of(ridden.fit, values, dict(enumerate(best.speed_per_rpm_mps, start=1)), limit)
    speeds, times = shift_habit(ridden)
    mean, se, scatter = _mean(speeds, USUAL_SHIFT_SHARE * limit, _SHIFT_RPM_SD * limit)
    # A scatter from few runs is itself uncertain: chi-squared with n - 1 degrees of freedom.
    dof = max(len(speeds) - 1, 3)
    scatters = scatter * np.sqrt(dof / rng.chisquare(dof, DRAWS))
    scatters[0] = scatter
    apart = rng.standard_normal(DRAWS)
    apart[0] = 0.0
    shift_rpm = np.minimum(mean + se * scatters / max(scatter, 1e-9) * apart, limit)
    time, time_se, _ = _mean(times, USUAL_SHIFT_S, _SHIFT_S_SD)
    shift_s = np.maximum(time + time_se * _student(rng, len(times)), 0.0)
    gears = len(best.speed_per_rpm_mps)
    launch = _launch(rng, ridden, machine)
    rule = Rule(shift_rpm[:, None] + _by_gear(ridden, gears), shift_s)
    return Draws(bounded(machine, bike, launch), rule, launch, scatters)


def _values(rng: np.random.Generator, ridden: Ridden) -> FloatArray:
    """Draw solutions from both fits, as often as each is likely to be right; the cap is infinite in the free one."""
    size = ridden.fit.curve.size + 5
    normal, chosen = rng.standard_normal((DRAWS, size)), rng.random(DRAWS)
    values = np.full((DRAWS, size), np.inf)
    first = ridden.weighed[0]
    chosen[0] = 0.0
    for one, rows in ((first, chosen <= first.weight), (ridden.weighed[-1], chosen > first.weight)):
        mean, covariance = one.fit.value, one.fit.covariance
        root = np.linalg.cholesky(covariance + 1e-18 * np.eye(mean.size))
        values[rows, : mean.size] = mean + normal[rows, : mean.size] @ root.T
    values[0, : first.fit.value.size] = first.fit.value
    return values


def shift_habit(ridden: Ridden) -> tuple[list[float], list[float]]:
    """Return engine speed and time of the shifts, each the mean of one run: shifts of one run are alike."""
    runs = sorted({shift.run for shift in ridden.shifts})
    each = [[shift for shift in ridden.shifts if shift.run == run] for run in runs]
    return (
        [float(np.mean([shift.engine_rpm for shift in one])) for one in each],
        [float(np.mean([shift.time_s for shift in one])) for one in each],
    )


def _by_gear(ridden: Ridden, gears: int) -> FloatArray:
    """How much later than in the mean of its run each gear is left, (gears,); shrunk to 0 where seldom seen."""
    speeds, _ = shift_habit(ridden)
    runs = dict(zip(sorted({shift.run for shift in ridden.shifts}), speeds, strict=True))
    apart = np.zeros(gears)
    for gear in range(1, gears + 1):
        seen = [shift.engine_rpm - runs[shift.run] for shift in ridden.shifts if shift.from_gear == gear]
        apart[gear - 1] = sum(seen) / (len(seen) + _SHRUNK_BY)
    return apart


def _mean(seen: list[float], usual: float, sd: float) -> tuple[float, float, float]:
    """Mean, its standard error and the scatter of one; as assumed below two."""
    if len(seen) < 2:
        return (seen[0], sd / 2, sd) if seen else (usual, sd, sd)
    scatter = float(np.std(seen, ddof=1))
    return float(np.mean(seen)), scatter / len(seen) ** 0.5, scatter


def _student(rng: np.random.Generator, seen: int) -> FloatArray:
    shape = rng.standard_t(max(seen - 1, 3), DRAWS)
    shape[0] = 0.0
    return shape


def _launch(rng: np.random.Generator, ridden: Ridden, machine: Machine) -> Launch | None:
    if not ridden.launches:
        return None
    rpm, rpm_se, _ = _mean([seen.engaged_rpm for seen in ridden.launches], 0.0, 0.05 * ridden.launches[0].engaged_rpm)
    pulls = [seen.acceleration_mps2 for seen in ridden.launches if np.isfinite(seen.acceleration_mps2)]
    engaged = np.maximum(rpm + rpm_se * _student(rng, len(ridden.launches)), 300.0)
    speed = engaged * machine.speed_per_rpm_mps[0]
    if pulls:
        pull, pull_se, _ = _mean(pulls, 0.0, _LAUNCH_SD * pulls[0])
        drawn_pull = pull + pull_se * _student(rng, len(pulls))
        thrust = drawn_pull * (1 + machine.wheels) + machine.rolling_mps2 + machine.air_per_m * speed**2 / 3
    else:
        usual = machine.thrust_mps2(1, np.array([float(rpm) * machine.speed_per_rpm_mps[0]]))[:, 0]
        spread = 1 + _LAUNCH_SD * rng.standard_normal(DRAWS)
        spread[0] = 1.0
        thrust = usual * spread
    held = np.abs(thrust / machine.cap_mps2 - 1) < _SAME_CAP
    return Launch(engaged, np.maximum(thrust, 0.3), held)


@dataclass(frozen=True, eq=False)
class _Side:
    machine: Machine
    clocks: tuple[Clock, ...]
    ways: tuple[Way, ...]


def _side(draws: Draws, machine: Machine, gain: float, top_mps: float) -> _Side:
    clocks = machine.clocks(top_mps)
    if draws.launch is None:
        return _Side(machine, clocks, ())
    ways = []
    for point in _POINTS:
        rpm = np.minimum(draws.rule.shift_rpm + point * draws.scatter_rpm[:, None], machine.limit_rpm)
        ways.append(through_the_gears(machine, clocks, Rule(rpm, draws.rule.shift_s), draws.launch, gain))
    return _Side(machine, clocks, tuple(ways))


def predict_spans(
    draws: Draws, factors: tuple[float, ...], asked: Sequence[Asked]
) -> tuple[list[SpanPrediction], tuple[Way, Way] | None, tuple[Machine, Machine]]:
    """Predict each span with the gearing ridden and with road speeds moved by `factors` in the gears.

    Returns
    -------
    list of SpanPrediction
        In the order asked.
    tuple of Way or None
        The standing start with each gearing, shifted at the mean engine speed; None where no start was seen.
    tuple of Machine
        With each gearing.
    """
    top = max([span.to_mps for span in asked] + [30.0]) + 2.0
    gain = 1 / factors[0]
    one = _side(draws, draws.machine, 1.0, top)
    two = _side(draws, draws.machine.geared(factors), gain, top)
    found = [_span(one, two, span) for span in asked]
    ways = (one.ways[_MIDDLE], two.ways[_MIDDLE]) if one.ways else None
    return found, ways, (one.machine, two.machine)


def _span(one: _Side, two: _Side, asked: Asked) -> SpanPrediction:
    if asked.how == "roll-on" and len(asked.gears) == 1:
        times = [_roll_on(side, asked) for side in (one, two)]
        shifts = [0, 0]
    else:
        pairs = [_through(side, asked) for side in (one, two)]
        times, shifts = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    return SpanPrediction(
        from_mps=asked.from_mps,
        to_mps=asked.to_mps,
        how=asked.how,
        gears=asked.gears,
        reference_s=_estimate(times[0]),
        other_s=_estimate(times[1]),
        difference_s=_estimate(_apart(times[0], times[1]) + _left_out(times[0])),
        shifts_reference=shifts[0],
        shifts_other=shifts[1],
    )


def _roll_on(side: _Side, asked: Asked) -> FloatArray:
    gear = asked.gears[0]
    n = side.machine.torque_per_kg.shape[0]
    if gear > len(side.clocks):
        return np.full(n, np.inf)
    table = side.clocks[gear - 1]
    low, high = (table.at(np.full(n, speed)) for speed in (asked.from_mps, asked.to_mps))
    return np.where(np.isfinite(high), high - np.where(np.isfinite(low), low, 0.0), np.inf)


def _through(side: _Side, asked: Asked) -> tuple[FloatArray, int]:
    n = side.machine.torque_per_kg.shape[0]
    if not side.ways:
        return np.full(n, np.inf), 0
    total, shifts = np.zeros(n), 0
    for way in side.ways:
        end, gear = first_time_s(way, side.clocks, asked.to_mps)
        begin, first = np.zeros(n), np.ones(n, dtype=np.int64)
        if asked.from_mps > 0:
            begin, first = first_time_s(way, side.clocks, asked.from_mps)
        total += np.where(np.isfinite(end), end - np.where(np.isfinite(begin), begin, 0.0), np.inf) / len(side.ways)
        if way is side.ways[_MIDDLE]:
            shifts = int(gear[0] - first[0])
    return total, shifts


def _left_out(times: FloatArray) -> FloatArray:
    """Draw what no part of the model knows, a share of the time; none in the best guess."""
    share = _LEFT_OUT * np.random.default_rng(_SEED).standard_normal(times.size)
    share[0] = 0.0
    return np.asarray(share * np.where(np.isfinite(times), times, 0.0), dtype=np.float64)


def _apart(one: FloatArray, two: FloatArray) -> FloatArray:
    good = np.isfinite(one) & np.isfinite(two)
    return np.where(good, np.where(good, two, 0.0) - np.where(good, one, 0.0), np.inf)


def _estimate(times: FloatArray) -> Estimate | None:
    """Mean and spread of the draws; None where the best guess, or one draw in ten, does not get there."""
    good = times[np.isfinite(times)]
    if not np.isfinite(times[0]) or good.size < 0.9 * times.size:
        return None
    lo, hi = band(good)
    return Estimate(float(np.mean(good)), float(np.std(good)), float(lo), float(hi))
