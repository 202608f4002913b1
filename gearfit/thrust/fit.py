"""Torque curve, drag and turning parts from stretches with the throttle open and from coasting.

The speed itself is fitted, not its noisy derivative. In a stretch of gear g, (T2) integrated over time reads

    v(t) = v0 + [sum_k c_k G int B_k(n) dt - a0 int dt - b int v^2 dt - g int grade dt] / (1 + w + j G^2) + e(t)   (T3)

and is linear in the torque's coefficients c, in a0 and in b; e is the speed's noise, partly hanging together over
seconds (`gearfit.fitting.correlated`). Each run has a grade of its own, of which only the spread is known, and a share
of thrust of its own for what the model leaves out. ln w and ln j are found by Gauss-Newton steps. What the stretches
leave open is held by stated spreads (a0, b, w, j, smoothness), so the covariance of the solution holds both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.correlated import Noise, weighting
from gearfit.prediction.lift import GRAVITY_MPS2
from gearfit.thrust.curve import RpmCurve
from gearfit.thrust.envelope import Open
from gearfit.thrust.machine import lever_per_m
from gearfit.thrust.resistance import Resistance

FloatArray = NDArray[np.float64]

_PIECES: Final = 6
_STEPS: Final = 4
#: Bend of the torque curve from knot to knot, as a share of its height.
_BEND_SD: Final = 0.06
#: Stretches that begin within this time belong to one run and share its grade, s.
_ONE_RUN_S: Final = 6.0
#: What the model leaves out (gusts, slip, a throttle not quite open): spread of thrust from run to run, share.
_RUN_SD: Final = 0.01


@dataclass(frozen=True)
class Turning:
    """Turning parts per mass and their spread in the logarithm."""

    wheels: float
    wheels_log_sd: float
    engine_m2: float
    engine_log_sd: float


@dataclass(frozen=True, eq=False)
class ThrustFit:
    """Solution.

    Attributes
    ----------
    curve : RpmCurve
        Basis of the torque curve.
    value : (k + 4,) float
        Torque coefficients per mass, a0, b, ln w, ln j.
    covariance : (k + 4, k + 4) float
        Of these.
    runs : int
        Runs that the stretches belong to.
    chi_square : float
        Weighted squares of the residuals for each degree of freedom.
    """

    curve: RpmCurve
    value: FloatArray
    covariance: FloatArray
    runs: int
    chi_square: float


@dataclass(frozen=True, eq=False)
class _Piece:
    """Integrals over one stretch; `columns` are (n, k + 2) before the division by the inertia."""

    time: FloatArray
    speed: FloatArray
    lever: float
    columns: FloatArray
    hill: FloatArray
    passed: FloatArray
    run: int


def fit_thrust(
    stretches: list[Open],
    speed_per_rpm: dict[int, float],
    usual: Resistance,
    turning: Turning,
    noise: Noise,
) -> ThrustFit:
    """Fit the torque curve.

    Parameters
    ----------
    stretches : list of Open
        With the throttle open (gear 1 and above) and without drive (gear 0); at least one of the former.
    speed_per_rpm : dict of int to float
        Road speed per engine speed in each gear, m/s per rev/min.
    usual : Resistance
        Drag as stated or assumed, with its spread.
    turning : Turning
        Turning parts as stated or assumed.
    noise : Noise
        Of the speeds.
    """
    driven = [s for s in stretches if s.gear > 0]
    rpm = np.concatenate([s.trace.speed_mps[s.place] / speed_per_rpm[s.gear] for s in driven])
    curve = RpmCurve(float(rpm.min()), float(rpm.max()), _PIECES)
    run_of = _runs(stretches)
    pieces = [_piece(s, curve, speed_per_rpm, run) for s, run in zip(stretches, run_of, strict=True)]
    grade_sd = [next(s.trace.grade_sd for s, r in zip(stretches, run_of, strict=True) if r == k) for k in set(run_of)]
    return _solve(pieces, curve, usual, turning, noise, np.array(grade_sd))


def _runs(stretches: list[Open]) -> list[int]:
    found: list[int] = []
    last: dict[str, tuple[float, int]] = {}
    count = 0
    for index in sorted(range(len(stretches)), key=lambda i: (stretches[i].trace.file, stretches[i].place.start)):
        stretch = stretches[index]
        begin, end = stretch.trace.time_s[stretch.place.start], stretch.trace.time_s[stretch.place.stop - 1]
        before = last.get(stretch.trace.file)
        if before is None or begin - before[0] > _ONE_RUN_S:
            run, count = count, count + 1
        else:
            run = before[1]
        last[stretch.trace.file] = (end, run)
        found.append(run)
    order = sorted(range(len(stretches)), key=lambda i: (stretches[i].trace.file, stretches[i].place.start))
    placed = [0] * len(stretches)
    for position, index in enumerate(order):
        placed[index] = found[position]
    return placed


def _piece(stretch: Open, curve: RpmCurve, speed_per_rpm: dict[int, float], run: int) -> _Piece:
    trace, place = stretch.trace, stretch.place
    time, speed = trace.time_s[place], trace.speed_mps[place]
    lever = lever_per_m(speed_per_rpm[stretch.gear]) if stretch.gear else 0.0
    drive = (
        lever * curve.basis(speed / speed_per_rpm[stretch.gear]) if stretch.gear else np.zeros((time.size, curve.size))
    )
    rates = np.column_stack([drive, -np.ones(time.size), -(speed**2)])
    columns = _integral(time, rates)
    hill = _integral(time, trace.hill_mps2[place][:, None])[:, 0]
    return _Piece(time, speed, lever, columns, hill, time - time[0], run)


def _integral(time: FloatArray, rates: FloatArray) -> FloatArray:
    steps = np.diff(time)[:, None] * (rates[1:] + rates[:-1]) / 2
    return np.concatenate([np.zeros((1, rates.shape[1])), np.cumsum(steps, axis=0)])


def _solve(
    pieces: list[_Piece],
    curve: RpmCurve,
    usual: Resistance,
    turning: Turning,
    noise: Noise,
    grade_sd: FloatArray,
) -> ThrustFit:
    k, runs = curve.size, grade_sd.size
    main = k + 4
    log_w, log_j = np.log(turning.wheels), np.log(turning.engine_m2)
    value = np.zeros(main + 2 * runs)
    value[k : k + 4] = usual.rolling_mps2, usual.air_per_m, log_w, log_j
    value[:k] = _first_torque(pieces, turning, usual)
    for _ in range(_STEPS):
        normal, right, squares, count = _normal_equations(pieces, value, k, runs, noise)
        p_normal, p_right = _prior(value, k, usual, turning, (log_w, log_j), grade_sd)
        covariance: FloatArray = np.linalg.inv(normal + p_normal).astype(np.float64)
        value = covariance @ (right + p_right)
    _, right, squares, count = _normal_equations(pieces, value, k, runs, noise)
    # What is left of the squares at the solution; a model that misses the data widens the covariance.
    chi_square = squares / max(count - k, 1)
    scale = max(1.0, chi_square)
    return ThrustFit(curve, value[:main], covariance[:main, :main] * scale, runs, chi_square)


def _first_torque(pieces: list[_Piece], turning: Turning, usual: Resistance) -> float:
    found = []
    for piece in pieces:
        if piece.lever > 0:
            gained = (piece.speed[-1] - piece.speed[0]) / piece.passed[-1]
            load = usual.rolling_mps2 + usual.air_per_m * float(np.mean(piece.speed**2))
            inertia = 1 + turning.wheels + turning.engine_m2 * piece.lever**2
            found.append((gained * inertia + load) / piece.lever)
    return float(np.median(found))


def _normal_equations(
    pieces: list[_Piece], value: FloatArray, k: int, runs: int, noise: Noise
) -> tuple[FloatArray, FloatArray, float, int]:
    """Sum up X'S^-1 X and X'S^-1 z over the stretches, each rid of its own v0; and the squares left at `value`."""
    size = k + 4 + 2 * runs
    normal, right = np.zeros((size, size)), np.zeros(size)
    squares, count = 0.0, 0
    wheels, engine = np.exp(value[k + 2]), np.exp(value[k + 3])
    for piece in pieces:
        inertia = 1 + wheels + engine * piece.lever**2
        gained = (piece.columns @ value[: k + 2] - piece.hill) / inertia
        drive = piece.columns[:, :k] @ value[:k] / inertia
        wide = np.zeros((piece.time.size, size))
        wide[:, : k + 2] = piece.columns / inertia
        wide[:, k + 2] = -wheels / inertia * gained
        wide[:, k + 3] = -engine * piece.lever**2 / inertia * gained
        wide[:, k + 4 + piece.run] = -GRAVITY_MPS2 * piece.passed / inertia
        wide[:, k + 4 + runs + piece.run] = drive
        # Linearised about `value`: what is left plus the linear part of the value itself.
        left = piece.speed - gained - wide[:, k + 4 :] @ value[k + 4 :]
        target = left + wide @ value
        weights = weighting(piece.time, np.ones(piece.time.size), noise)
        both = np.column_stack([wide, target, left, np.ones(piece.time.size)])
        weighted = weights.apply(both)
        ones = weighted[:, -1]
        total = float(ones.sum())
        product = both.T @ weighted - np.outer(both.T @ ones, both.T @ ones) / total
        normal += product[:size, :size]
        right += product[:size, size]
        squares += float(product[size + 1, size + 1])
        count += piece.time.size - 1
    return normal, right, squares, count


def _prior(
    value: FloatArray,
    k: int,
    usual: Resistance,
    turning: Turning,
    logs: tuple[float, float],
    grade_sd: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    runs = grade_sd.size
    normal = np.zeros((value.size, value.size))
    right = np.zeros(value.size)
    height = float(np.mean(np.abs(value[:k])))
    bend = np.diff(np.eye(k), n=2, axis=0) / (_BEND_SD * height)
    normal[:k, :k] = bend.T @ bend
    means = np.array([usual.rolling_mps2, usual.air_per_m, *logs])
    sds = np.array([usual.rolling_sd_mps2, usual.air_sd_per_m, turning.wheels_log_sd, turning.engine_log_sd])
    place = np.arange(k, k + 4)
    normal[place, place] = sds**-2
    right[place] = means * sds**-2
    grades = np.arange(k + 4, k + 4 + runs)
    normal[grades, grades] = grade_sd**-2
    strengths = grades + runs
    normal[strengths, strengths] = _RUN_SD**-2
    return normal, right
