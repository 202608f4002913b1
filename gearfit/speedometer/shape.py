"""Is a straight line enough? If not, a continuous line with bends, rising everywhere."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.errors import UndecidableError
from gearfit.records.estimate import Estimate
from gearfit.speedometer.clusters import Solution, solve_told
from gearfit.speedometer.cut_off import CutOff, find_cut_offs
from gearfit.speedometer.line import Fitted, fit, hinges, is_coarse
from gearfit.speedometer.pairs import Pairs

FloatArray = NDArray[np.float64]

#: Units from which the straight line is put to the test, and the level at which it is given up.
_FEWEST_UNITS, _LEVEL = 9, 0.01
#: Degrees of freedom below which the test says nothing.
_FEWEST_DOF: Final = 4.0
#: Least slope of a curve that has to rise everywhere.
_GENTLEST_SLOPE: Final = 0.05
#: A line with bends needs readings at speeds so far apart within each of its pieces, m/s: with fewer held speeds than
#: pieces any bend fits.
_LEAST_RUN_MPS: Final = 1.0
#: Gains outside are not of an instrument that is off, but of columns, units or gears taken for others.
_GAINS: Final = (1 / 3, 3.0)


@dataclass(frozen=True, eq=False)
class Shape:
    """What an instrument shows at any true speed.

    Attributes
    ----------
    line : Fitted
        Straight line.
    curve : Fitted
        The same, or the line with bends where the straight one is not enough.
    knots : (K,) float
        Where the curve bends.
    linear : bool
        Whether the straight line is enough.
    common : float
        Relative error of the true speeds that all readings share.
    slowest_mps, fastest_mps : float
        True speeds between which there are readings.
    cut_off : CutOff
        Where the instrument stops.
    used : (n,) bool
        Pairs that the fit rests on.
    """

    line: Fitted
    curve: Fitted
    knots: FloatArray
    linear: bool
    common: float
    slowest_mps: float
    fastest_mps: float
    cut_off: CutOff
    used: NDArray[np.bool_]

    @property
    def gain(self) -> Estimate:
        """Gain of the straight line."""
        combination = self._unit(1, self.line)
        extra = (self.common * self.line.solution.parameters[1]) ** 2
        return self.line.solution.at(combination, extra)

    @property
    def offset_mps(self) -> Estimate:
        """Offset of the straight line."""
        return self.line.solution.at(self._unit(0, self.line))

    def value_mps(self, true_mps: FloatArray) -> FloatArray:
        """Return what the instrument shows, shape of `true_mps`, stops aside."""
        shown: FloatArray = hinges(true_mps, self.knots) @ self.curve.solution.parameters[: self.curve.terms]
        return shown

    def gain_at(self, true_mps: float) -> float:
        """Slope of the curve at a true speed."""
        parameters = self.curve.solution.parameters
        return float(parameters[1] + np.sum(parameters[2 : self.curve.terms][true_mps > self.knots]))

    def at(self, true_mps: float) -> tuple[Estimate, float]:
        """Estimate what is shown at a true speed, with the part of its variance that more readings leave as it is."""
        combination = np.zeros(self.curve.solution.parameters.size)
        combination[: self.curve.terms] = hinges(np.array([true_mps]), self.knots)[0]
        extra = (self.common * self.gain_at(true_mps) * true_mps) ** 2
        shown = self.curve.solution.at(combination, extra)
        floor, ceiling = self.cut_off.floor_mps, self.cut_off.ceiling_mps
        ends = (shown.value, shown.lo95, shown.hi95)
        value, low, high = np.clip(ends, -np.inf if floor is None else floor, np.inf if ceiling is None else ceiling)
        return Estimate(float(value), shown.se, float(low), float(high)), extra

    def _unit(self, place: int, fitted: Fitted) -> FloatArray:
        combination = np.zeros(fitted.solution.parameters.size)
        combination[place] = 1.0
        return combination


def find_shape(pairs: Pairs) -> Shape:
    """Fit the pairs of one setup.

    Raises
    ------
    UndecidableError
        Too few pairs, speeds too much alike, or a gain that no instrument has.
    """
    cut_off = find_cut_offs(pairs)
    clear = pairs.take(cut_off.clear)
    line = fit(clear)
    gain = float(line.solution.parameters[1])
    if not _GAINS[0] <= gain <= _GAINS[1]:
        raise UndecidableError(
            f"the shown speed would change by {gain:.2g} for each 1 of true speed, which no instrument does: look "
            "at the columns, their units, and the gears of the rows"
        )
    curve, knots = line, np.empty(0)
    if line.units >= _FEWEST_UNITS and not is_coarse(clear.take(line.sound)):
        curve, knots = _bent(clear, line)
    used = cut_off.clear.copy()
    used[np.flatnonzero(cut_off.clear)] = curve.sound
    scaled = clear.common[curve.sound]
    reach = pairs.true_mps[used]
    return Shape(
        line=line,
        curve=curve,
        knots=knots,
        linear=knots.size == 0,
        common=float(np.max(scaled, initial=0.0) * np.mean(scaled > 0)),
        slowest_mps=float(reach.min()),
        fastest_mps=float(reach.max()),
        cut_off=cut_off,
        used=used,
    )


def _bent(pairs: Pairs, line: Fitted) -> tuple[Fitted, FloatArray]:
    """Return the line with two bends where these are beyond chance, else the straight line."""
    # A curve looks wild to a straight line, so only gross errors are kept out of the test.
    sound = line.sound
    x = pairs.true_mps[sound]
    ends = np.quantile(x, [0, 1 / 3, 2 / 3, 1])
    knots = ends[1:-1]
    pieces = [x[(x >= low) & (x <= high)] for low, high in pairwise(ends)]
    if any(piece.size < 2 or np.ptp(piece) < _LEAST_RUN_MPS for piece in pieces):
        return line, np.empty(0)
    try:
        bent = fit(pairs, knots, sound)
        chance = _chance(bent)
    except UndecidableError:
        return line, np.empty(0)
    return (_rising(bent, ends), knots) if chance < _LEVEL else (line, np.empty(0))


def _chance(bent: Fitted) -> float:
    """Probability of bends as large as these by chance: F test with the scatter between units (1: unknown)."""
    from scipy.special import fdtrc

    solution = bent.solution
    bends = solution.parameters[2 : bent.terms]
    covariance = solution.covariance[2 : bent.terms, 2 : bent.terms]
    dofs = [solution.dof_of(row) for row in np.eye(solution.parameters.size)[2 : bent.terms]]
    q, dof = bends.size, min(dofs)
    if dof < _FEWEST_DOF:
        return 1.0
    wald = float(bends @ solve_told(covariance, bends)) / q
    return float(fdtrc(q, dof - q + 1, wald * (dof - q + 1) / dof))


def _rising(bent: Fitted, ends: FloatArray) -> Fitted:
    """Return the fit with its values at the knots made to rise (isotonic regression), where they do not."""
    parameters = bent.solution.parameters.copy()
    slopes = np.cumsum(parameters[1 : bent.terms])
    if (slopes > 0).all():
        return bent
    from scipy.optimize import isotonic_regression

    values = hinges(ends, ends[1:-1]) @ parameters[: bent.terms]
    level = isotonic_regression(values).x
    slopes = np.maximum(np.diff(level) / np.diff(ends), _GENTLEST_SLOPE)
    parameters[1 : bent.terms] = np.diff(slopes, prepend=0.0)
    parameters[0] = level[0] - slopes[0] * ends[0]
    solution = Solution(parameters, bent.solution.covariance, bent.solution.dof, bent.solution.parts)
    return Fitted(solution, bent.terms, bent.sound, bent.units)
