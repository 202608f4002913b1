"""Levels of all gears, lag and drive slip of a setup's timed logs in one generalised least-squares step.

For a sample in gear g, with L the lead of the engine-speed channel, d an error of the speeds and q the slip:

    ln(n/v) = k_g + L (d ln v/dt) + d/v + q u,      u = a + F(v)/m,                                  (2)

u being the thrust per mass that the driven tyre transmits: acceleration plus road load. L, d and q start from what is
usual (their priors), so that a ride that cannot tell leaves them there, and their uncertainty goes into the levels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.correlated import Noise, weighting

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Road load per mass F/m = 0.05 + 0.00138 v^2 (m/s2, v in m/s): 40 CFR 86.529-98, Figure F98-9, row 250 kg.
_ROAD_LOAD: Final = (13.06 / 250, 0.0266 * 3.6**2 / 250)
#: Least thrust per mass: slower than by engine braking it is the brakes that slow the machine, m/s2 (our assumption).
_ENGINE_BRAKING: Final = -0.5
#: Slip per thrust and mass, 1/(m/s2), before the ride: usual value and spread (our assumption, no source).
USUAL_SLIP: Final = 0.0005
USUAL_SLIP_SD: Final = 0.0005
#: Standard deviation that stands for "held", m/s.
_HELD: Final = 1e-7
#: Bounds of the degrees of freedom, and of one passage's squared departure in the scale.
_LEAST_DOF: Final = 3.0
_MOST_DOF: Final = 200.0
_WILD_Z2: Final = 25.0


@dataclass(frozen=True, eq=False)
class InGear:
    """Samples of one stream in gear, away from shifts; arrays of one length (n,).

    Attributes
    ----------
    gear, passage : int arrays
        Position of the gear in the ladder; number of the passage, ascending.
    rate : float array
        d ln v / dt, 1/s, from the engine speed.
    """

    time_s: FloatArray
    speed_mps: FloatArray
    log_ratio: FloatArray
    rate: FloatArray
    gear: IntArray
    passage: IntArray
    noise: Noise


@dataclass(frozen=True, eq=False)
class Joint:
    """Solution of the step.

    Attributes
    ----------
    gear : (G,) int
        Positions of the gears that have samples.
    level : (G,) float
        k_g without slip.
    covariance : (G, G) float
        Everything in it: noise, lag, offset, slip.
    all_covariance : (G + 2 S + 1, G + 2 S + 1) float
        Of the levels, lags, offsets and the slip.
    lag_s, lag_se_s, offset_mps, offset_se_mps : (S,) float
        Additions for each stream (offset about 0 where it was held).
    slip, slip_se : float
        q, 1/(m/s2).
    unusual_slip : (G,) float
        How far a slip one standard deviation above the usual one leaves each level short of the truth.
    passages : (G,) int
        Passages with samples.
    dof : float
        Degrees of freedom behind the covariance.
    """

    gear: IntArray
    level: FloatArray
    covariance: FloatArray
    all_covariance: FloatArray
    lag_s: FloatArray
    lag_se_s: FloatArray
    offset_mps: FloatArray
    offset_se_mps: FloatArray
    slip: float
    slip_se: float
    unusual_slip: FloatArray
    passages: IntArray
    dof: float


def solve(
    streams: Sequence[InGear],
    lag_now_s: FloatArray,
    lag_prior_sd_s: FloatArray | float,
    offset_prior: Sequence[tuple[float, float]],
) -> Joint:
    """Solve (2) for all streams of a setup.

    Parameters
    ----------
    streams : sequence of InGear
        At least one sample in all.
    lag_now_s : (S,) float
        Lag already taken out of each stream, beyond what is believed of it before the ride.
    lag_prior_sd_s : (S,) float or float
        Standard deviation of that belief.
    offset_prior : sequence of (mean, sd)
        What is believed of the offset still in each stream's speeds, m/s; sd 0 holds it.
    """
    gears = np.flatnonzero(np.bincount(np.concatenate([s.gear for s in streams])))
    count, size = len(streams), gears.size + 2 * len(streams) + 1
    mean, precision = prior(gears.size, lag_now_s, lag_prior_sd_s, offset_prior)
    information, moment = np.diag(precision), precision * mean
    solved = []
    for i, s in enumerate(streams):
        place = np.searchsorted(gears, s.gear)
        design = columns(s, place, gears.size)
        heavy = weighting(s.time_s, s.speed_mps, s.noise).apply(design)
        own = np.array([*range(gears.size), gears.size + i, gears.size + count + i, size - 1])
        product = design[:, :-1].T @ heavy
        information[np.ix_(own, own)] += product[:, :-1]
        moment[own] += product[:, -1]
        solved.append((place, design, heavy, own))
    covariance: FloatArray = np.linalg.inv(information).astype(np.float64)
    solution = covariance @ moment
    z, passages, scores = [], np.zeros(gears.size, dtype=np.int64), np.diag(precision)
    for s, (place, design, heavy, own) in zip(streams, solved, strict=True):
        first = np.flatnonzero(np.diff(s.passage, prepend=-1))
        force = heavy[:, -1] - heavy[:, :-1] @ solution[own]
        pull = np.zeros((first.size, own.size))
        pull[np.arange(first.size), place[first]] = in_gear = np.add.reduceat(force, first)
        for k in range(gears.size, own.size):
            pull[:, k] = np.add.reduceat(design[:, k] * force, first)
        scores[np.ix_(own, own)] += pull.T @ pull
        weight = np.add.reduceat(heavy[np.arange(place.size), place], first)
        passages += np.bincount(place[first], minlength=gears.size)
        z.append(in_gear / np.sqrt(np.maximum(weight, 1e-300)))
    # With precision P, a truth that is d off the mean of its prior leaves the solution C P d short of it.
    unusual_slip = covariance[: gears.size, -1] * precision[-1] * USUAL_SLIP_SD
    dof, scale = _trust(streams, np.concatenate(z), gears.size)
    covariance = _widened(covariance, scale, scores, gears.size)
    se = np.sqrt(np.diag(covariance))
    lags, offsets = slice(gears.size, gears.size + count), slice(gears.size + count, size - 1)
    return Joint(
        gear=gears,
        level=solution[: gears.size],
        covariance=covariance[: gears.size, : gears.size],
        all_covariance=covariance,
        lag_s=solution[lags],
        lag_se_s=se[lags],
        offset_mps=solution[offsets],
        offset_se_mps=se[offsets],
        slip=float(solution[-1]),
        slip_se=float(se[-1]),
        unusual_slip=unusual_slip,
        passages=passages,
        dof=dof,
    )


def thrust_per_mass(acceleration_mps2: FloatArray | float, speed_mps: FloatArray) -> FloatArray:
    """Thrust per mass that the driven tyre transmits, m/s^2: acceleration plus road load, no less than engine braking.

    Parameters
    ----------
    acceleration_mps2 : (n,) float or float
        Of the machine.
    speed_mps : (n,) float
        Its speed.
    """
    thrust = acceleration_mps2 + _ROAD_LOAD[0] + _ROAD_LOAD[1] * speed_mps**2
    return np.asarray(np.maximum(thrust, _ENGINE_BRAKING))


def columns(s: InGear, place: IntArray, gears: int) -> FloatArray:
    """Return what each sample holds of each gear, of the stream's lag and offset and of the slip, and its ln(n/v).

    Parameters
    ----------
    s : InGear
        (n,) samples.
    place : (n,) int
        Gear of each, 0 to `gears` - 1.
    gears : int

    Returns
    -------
    (n, gears + 4) float
    """
    design = np.zeros((s.time_s.size, gears + 4), order="F")
    design[np.arange(s.time_s.size), place] = 1.0
    design[:, gears] = s.rate
    design[:, gears + 1] = 1 / s.speed_mps
    design[:, gears + 2] = thrust_per_mass(s.rate * s.speed_mps, s.speed_mps)
    design[:, gears + 3] = s.log_ratio
    return design


def prior(
    gears: int, lag_now_s: FloatArray, lag_sd_s: FloatArray | float, offset_prior: Sequence[tuple[float, float]]
) -> tuple[FloatArray, FloatArray]:
    """Return means and precisions before the ride: none for levels, about no lag, offsets as believed, usual slip."""
    offset_mean, offset_sd = np.array(offset_prior).T
    mean = np.concatenate([np.zeros(gears), -lag_now_s, offset_mean, [USUAL_SLIP]])
    sd = np.concatenate([np.full(lag_now_s.size, lag_sd_s), np.maximum(offset_sd, _HELD), [USUAL_SLIP_SD]])
    return mean, np.concatenate([np.zeros(gears), 1 / sd**2])


def _widened(covariance: FloatArray, scale: float, scores: FloatArray, gears: int) -> FloatArray:
    """Widen the levels by the common scale, and lag, offset and slip by what their passages show (no less).

    The latter by the cluster-robust covariance with passages as clusters (K.-Y. Liang and S. Zeger, Biometrika 73(1),
    13, 1986).
    """
    robust = np.diag(covariance @ scores @ covariance)
    factor = np.sqrt(np.maximum(scale, robust / np.diag(covariance)))
    factor[:gears] = np.sqrt(scale)
    widened: FloatArray = covariance * np.outer(factor, factor)
    return widened


def _trust(streams: Sequence[InGear], z: FloatArray, gears: int) -> tuple[float, float]:
    """Degrees of freedom, and by how much the passages scatter beyond the noise (at least 1)."""
    spare = z.size - gears
    seconds = sum(float(np.sum(np.minimum(np.diff(s.time_s), 1.0))) for s in streams)
    correlation_s = max(max(s.noise.correlation_s for s in streams), 0.5)
    dof = max(float(spare), seconds / (4 * correlation_s) - gears, _LEAST_DOF)
    if spare < 1:
        return min(dof, _MOST_DOF), 1.0
    return min(dof, _MOST_DOF), max(1.0, float(np.sum(np.minimum(z**2, _WILD_Z2))) / spare)
