"""The line shown = offset + gain x true through pairs, errors in both, delay and damping corrected along with it.

Errors in both variables as D. York et al., American Journal of Physics 72(3), 367 (2004) (the tests hold it
against that paper, written out). Intervals: `clusters`.

A log's readings in steps count as intervals. In a sheet a step counts as an error like the others, whose size the
scatter about the line tells, and which is no less than the step: nobody knows how well a person reads. Where the steps
are the most of the error, `coarse` weighs all lines that the readings allow.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import UndecidableError
from gearfit.speedometer.clusters import FEWEST_UNITS, STATED_DOF, Solution, clustered, inverse_told, solve
from gearfit.speedometer.coarse import posterior_line
from gearfit.speedometer.logs import LEAST_RATE_MPS2
from gearfit.speedometer.pairs import Pairs
from gearfit.speedometer.start import ask_for_spread, find_sound, robust_start, share_of_steps
from gearfit.speedometer.steps import within_steps

FloatArray = NDArray[np.float64]

_ROUNDS: Final = 30
#: Share of the variance from which steps are most of it.
_MOSTLY_STEPS: Final = 0.5
#: Least factor on the stated variances of readings in steps.
_LEAST_WIDEN: Final = 1e-3
#: A second more of damping that changes no speed by this is not looked for, m/s^2.
_LEAST_DAMPING_MPS2: Final = 1e-6
#: No instrument's slope, at any speed: a fit that comes upon it does not settle.
_RUNAWAY_SLOPE: Final = 100.0
#: Least share of the stated variances that is put down to a sheet, however well it lies on a line: nobody reads a dash
#: ten times better than is stated (our assumption). A log that scatters less than the other share was computed.
_LEAST_SCATTER, _COMPUTED = 1e-2, 1e-6


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
        Fewer than three pairs, speeds too much alike, or true speeds not known well enough for a line to settle.
    """
    bends = np.empty(0) if knots is None else knots
    if pairs.size < 3:
        raise UndecidableError(f"{pairs.size} pairs of shown and true speed are too few; three are the least")
    offset, gain = robust_start(pairs.true_mps, pairs.shown_mps)
    if sound is None:
        sound = find_sound(pairs, offset, gain)
    p = pairs.take(sound)
    ask_for_spread(p.true_mps)
    if is_coarse(p) and not bends.size:
        return Fitted(posterior_line(p, offset, gain), 2, sound, p.size)
    extra = _lag_columns(p, gain)
    terms = 2 + bends.size
    start = np.concatenate(([offset, gain], np.zeros(bends.size + extra.shape[1])))
    solution = _covariance(_iterate(p, bends, extra, start), p)
    return Fitted(solution, terms, sound, int(np.unique(p.unit).size))


def is_coarse(p: Pairs) -> bool:
    """Whether these are readings at held speeds whose steps are the most of their errors."""
    variance = p.shown_sd_mps**2 + p.true_sd_mps**2 + p.step_mps**2 / 12
    return bool((p.timed < 0).all()) and share_of_steps(p, variance) > _MOSTLY_STEPS


def _lag_columns(p: Pairs, gain: float) -> FloatArray:
    """Columns for each log that accelerates enough: what a second more of delay does, and of damping where it does."""
    columns = []
    for log in np.unique(p.timed[p.timed >= 0]):
        mine = p.timed == log
        if float(np.std(p.rate_mps2[mine])) >= LEAST_RATE_MPS2:
            columns.append(np.where(mine, -gain * p.rate_mps2, 0.0))
            if np.abs(p.damping_mps2[mine]).max() > _LEAST_DAMPING_MPS2:
                columns.append(np.where(mine, gain * p.damping_mps2, 0.0))
    return np.column_stack(columns) if columns else np.empty((p.size, 0))


@dataclass(frozen=True, eq=False)
class _Converged:
    """Parameters, design at the adjusted speeds, residuals and weights (information) of the last round.

    `least` is the least scatter that the steps of the instrument allow, where these count as errors like others, and
    None where readings count as intervals. `repeated` is the part of the stated variances that comes again with a held
    speed: the step of the dash, and where the needle of the tachometer or the receiver's display stood.
    """

    parameters: FloatArray
    design: FloatArray
    residual: FloatArray
    weight: FloatArray
    least: float | None
    repeated: float


def _iterate(p: Pairs, bends: FloatArray, extra: FloatArray, start: FloatArray) -> _Converged:
    """York's iteration with more terms, at each pair the slope of its piece, and readings in steps as intervals."""
    vx, vy, steps = p.true_sd_mps**2, p.shown_sd_mps**2, p.step_mps
    as_errors = bool((p.timed < 0).all())
    if as_errors:
        vy, steps = vy + steps**2 / 12, np.zeros_like(steps)
    measured = np.column_stack([hinges(p.true_mps, bends), extra])
    theta, widen = start, 1.0
    for _ in range(_ROUNDS):
        slope = theta[1] + (p.true_mps[:, None] > bends) @ theta[2 : 2 + bends.size]
        if not (np.abs(slope) < _RUNAWAY_SLOPE).all():
            raise UndecidableError("no line through the readings settles: note more speeds, further apart")
        variance = widen * (vy + slope**2 * vx)
        expected = measured @ theta
        needle, share = within_steps(p.shown_mps, steps, expected, np.sqrt(variance))
        residual = needle - expected
        adjusted = p.true_mps + slope * widen * vx / variance * residual
        design = np.column_stack([hinges(adjusted, bends), extra])
        step = solve(measured, design, residual / share, share / variance)
        theta = theta + step
        # How the readings really scatter about the line (expected square), which only readings in steps ask for.
        if (steps > 0).all():
            widen = max(_LEAST_WIDEN, widen * float(np.mean(residual**2 / variance + 1 - share)))
        if np.abs(step).max() <= 1e-11 * np.abs(theta).max():
            break
    least = share_of_steps(p, variance) if as_errors else None
    repeated = share_of_steps(p, variance) + float(np.mean(slope**2 * vx / variance))
    return _Converged(theta, design, residual / share, share / variance, least, repeated)


def _covariance(found: _Converged, p: Pairs) -> Solution:
    """Covariance from the scatter between units, or about the line; of few units from stated errors, widened."""
    theta, design, residual, weight = found.parameters, found.design, found.residual, found.weight
    units = int(np.unique(p.unit).size)
    if found.least is None and float(np.mean(weight * residual**2)) < _COMPUTED:
        raise UndecidableError(
            "shown and measured speeds agree more exactly than an instrument and a receiver can: one was worked out "
            "from the other"
        )
    if found.least is None and FEWEST_UNITS <= units < p.size:
        covariance, whitened, reduced, spread = clustered(design, residual, weight, p.unit)
        return Solution(theta, covariance, STATED_DOF, (whitened, reduced, spread))
    stated = inverse_told(design.T @ (weight[:, None] * design))
    dof = p.size - theta.size
    scatter = float(np.sum(weight * residual**2)) / dof if dof > 0 else 1.0
    rows = p.size / units
    if found.least is not None:
        # Of m rows at one held speed the mean has the m-th part of the variance, but all of what comes again.
        own = max(found.least, scatter, _LEAST_SCATTER) + (rows - 1) * found.repeated
        return Solution(theta, stated * own, float(max(dof, 1)), None)
    # Errors within a stretch of riding hang together: it counts as one reading.
    return Solution(theta, stated * rows * max(1.0, scatter), float(max(units - 1, 1)), None)
