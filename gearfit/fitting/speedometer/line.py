"""The line shown = offset + gain x true through pairs, errors in both, delay and damping corrected along with it.

Errors in both variables as D. York et al., American Journal of Physics 72(3), 367 (2004) (the tests hold it
against that paper, written out). Robust start by the median of all slopes (H. Theil 1950, P. K. Sen 1968).
Intervals: `clusters`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import UndecidableError
from gearfit.fitting.speedometer.clusters import FEWEST_UNITS, STATED_DOF, Solution, clustered, solve
from gearfit.fitting.speedometer.logs import LEAST_RATE_MPS2
from gearfit.fitting.speedometer.pairs import Pairs
from gearfit.fitting.speedometer.steps import within_steps

FloatArray = NDArray[np.float64]

#: Pairs that the start looks at, at most (all pairs of slopes of them).
_START_PAIRS: Final = 400
#: Pairs farther off than this many robust standard errors are set aside.
_WILD: Final = 4.0
_ROUNDS: Final = 30
#: With fewer pairs than this the scatter found may only widen the stated errors: a few coarse readings can lie on a
#: line by chance. Least factor on their variances otherwise.
_PAIRS_TO_NARROW, _LEAST_WIDEN = 40, 1e-3
#: Spread of true speeds below which gain and offset cannot be told apart, m/s.
LEAST_SPREAD_MPS: Final = 3.0


@dataclass(frozen=True, eq=False)
class Fitted:
    """A fit of the pairs with some design.

    Attributes
    ----------
    solution : Solution
        Parameters: as many as the shape has terms, then the corrections of each log's delay and damping (s).
    terms : int
        Number of terms of the shape.
    sound : (n,) bool
        Pairs that are not wildly off.
    units : int
        Number of units among the sound pairs.
    """

    solution: Solution
    terms: int
    sound: NDArray[np.bool_]
    units: int


def hinges(x: FloatArray, knots: FloatArray) -> FloatArray:
    """Return the terms of a continuous line with bends: 1, x and max(0, x - knot) for each knot; shape (n, 2 + K)."""
    bends = [np.maximum(0.0, x - knot) for knot in knots]
    return np.column_stack([np.ones_like(x), x, *bends])


def robust_start(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Return offset and gain from the median of the slopes between all pairs of (at most 400) points.

    Raises
    ------
    UndecidableError
        The speeds are so much alike that no line can be told.
    """
    pick = np.unique(np.linspace(0, x.size - 1, min(x.size, _START_PAIRS)).astype(np.int64))
    a, b = x[pick], y[pick]
    i, j = np.triu_indices(a.size, 1)
    run = a[j] - a[i]
    far = np.abs(run) >= LEAST_SPREAD_MPS / 2
    if np.ptp(x) < LEAST_SPREAD_MPS or not far.any():
        raise UndecidableError("the speeds are too much alike to tell gain from offset: note speeds further apart")
    gain = float(np.median((b[j] - b[i])[far] / run[far]))
    return float(np.median(y - gain * x)), gain


def fit(pairs: Pairs, knots: FloatArray | None = None, sound: NDArray[np.bool_] | None = None) -> Fitted:
    """Fit a line, or a continuous line with bends at `knots`.

    Parameters
    ----------
    pairs : Pairs
        At least three.
    knots : (K,) float, optional
        True speeds at which the gain may change.
    sound : (n,) bool, optional
        Pairs to use; found here where not given.

    Raises
    ------
    UndecidableError
        Fewer than three pairs, or speeds too much alike.
    """
    bends = np.empty(0) if knots is None else knots
    if pairs.size < 3:
        raise UndecidableError(f"{pairs.size} pairs of shown and true speed are too few; three are the least")
    offset, gain = robust_start(pairs.true_mps, pairs.shown_mps)
    if sound is None:
        sound = _sound(pairs, offset, gain)
    p = pairs.take(sound)
    extra = _lag_columns(p, gain)
    terms = 2 + bends.size
    start = np.concatenate(([offset, gain], np.zeros(bends.size + extra.shape[1])))
    solution = _covariance(_iterate(p, bends, extra, start), p)
    return Fitted(solution, terms, sound, int(np.unique(p.unit).size))


def _sound(pairs: Pairs, offset: float, gain: float) -> NDArray[np.bool_]:
    """Find the pairs that are not wildly off the start."""
    sd = np.sqrt(pairs.shown_sd_mps**2 + (gain * pairs.true_sd_mps) ** 2 + pairs.step_mps**2 / 12)
    z = (pairs.shown_mps - offset - gain * pairs.true_mps) / sd
    z = z - np.median(z)
    scale = 1.4826 * float(np.median(np.abs(z))) * (1 + 5 / max(pairs.size - 2, 1))
    sound: NDArray[np.bool_] = np.abs(z) <= _WILD * max(1.0, scale)
    return sound


def _lag_columns(p: Pairs, gain: float) -> FloatArray:
    """Two columns for each log that accelerates enough: what a second more of delay, and of damping, does."""
    columns = []
    for log in np.unique(p.timed[p.timed >= 0]):
        mine = p.timed == log
        if float(np.std(p.rate_mps2[mine])) >= LEAST_RATE_MPS2:
            columns.append(np.where(mine, -gain * p.rate_mps2, 0.0))
            columns.append(np.where(mine, gain * p.damping_mps2, 0.0))
    return np.column_stack(columns) if columns else np.empty((p.size, 0))


@dataclass(frozen=True, eq=False)
class _Converged:
    """Parameters, design at the adjusted speeds, residuals and weights (information) of the last round."""

    parameters: FloatArray
    design: FloatArray
    residual: FloatArray
    weight: FloatArray


def _iterate(p: Pairs, bends: FloatArray, extra: FloatArray, start: FloatArray) -> _Converged:
    """York's iteration with more terms, at each pair the slope of its piece, and readings in steps as intervals."""
    vx, vy = p.true_sd_mps**2, p.shown_sd_mps**2
    measured = np.column_stack([hinges(p.true_mps, bends), extra])
    theta, widen = start, 1.0
    least = 1.0 if p.size < _PAIRS_TO_NARROW else _LEAST_WIDEN
    for _ in range(_ROUNDS):
        slope = theta[1] + (p.true_mps[:, None] > bends) @ theta[2 : 2 + bends.size]
        variance = widen * (vy + slope**2 * vx)
        expected = measured @ theta
        needle, share = within_steps(p.shown_mps, p.step_mps, expected, np.sqrt(variance))
        residual = needle - expected
        adjusted = p.true_mps + slope * widen * vx / variance * residual
        design = np.column_stack([hinges(adjusted, bends), extra])
        step = solve(measured, design, residual / share, share / variance)
        theta = theta + step
        # How the readings really scatter about the line (expected square), which only readings in steps ask for.
        if (p.step_mps > 0).all():
            widen = max(least, widen * float(np.mean(residual**2 / variance + 1 - share)))
        if np.abs(step).max() <= 1e-11 * np.abs(theta).max():
            break
    return _Converged(theta, design, residual / share, share / variance)


def _covariance(found: _Converged, p: Pairs) -> Solution:
    """Covariance from the scatter between units; of single readings, and of few units, from stated errors, widened."""
    theta, design, residual, weight = found.parameters, found.design, found.residual, found.weight
    units = int(np.unique(p.unit).size)
    if FEWEST_UNITS <= units < p.size:
        covariance, whitened, reduced, spread = clustered(design, residual, weight, p.unit)
        return Solution(theta, covariance, STATED_DOF, (whitened, reduced, spread))
    stated: FloatArray = np.linalg.inv(design.T @ (weight[:, None] * design)).astype(np.float64)
    dof = p.size - theta.size
    worse = max(1.0, float(np.sum(weight * residual**2)) / dof) if dof > 0 else 1.0
    if units < p.size:
        # Errors within a unit hang together: it counts as one reading.
        return Solution(theta, stated * worse * p.size / units, float(max(units - 1, 1)), None)
    return Solution(theta, stated * worse, float(dof) if worse > 1 else STATED_DOF, None)
