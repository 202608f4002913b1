"""Torque curve, drag and turning parts from stretches with the throttle open and from coasting.

The speed itself is fitted, not its noisy derivative. In a stretch of gear g, (T2) integrated over time reads

    v(t) = v0 + [sum_k c_k G int B_k(n) dt - a0 int dt - b int v^2 dt - g int grade dt] / (1 + w + j G^2) + e(t)   (T3)

and is linear in the torque's coefficients c, in a0 and in b; e is the speed's noise, partly hanging together over
seconds (`gearfit.fitting.ratios.correlated`). Each run has a grade of its own, of which only the spread is known, and a
share of thrust of its own for what the model leaves out. ln w and ln j are found by Gauss-Newton steps. What the
stretches leave open is held by stated spreads (a0, b, w, j, smoothness), so the covariance of the solution holds
both.

Two questions are put to the same equations as other hypotheses, and weighed by the evidence: the probability of the
speeds under the hypothesis, by Laplace's method (e.g. MacKay, Information Theory, Inference, and Learning Algorithms,
ch. 27 and 28; from memory). Where first gear is held back, its thrust is min(G tau, cap) with the cap unknown; where
the hand opens the throttle anew each time, the share of thrust is each stretch's own instead of the run's.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.correlated import Noise, weighting
from gearfit.prediction.lift import GRAVITY_MPS2
from gearfit.thrust.curve import RpmCurve
from gearfit.thrust.envelope import Open
from gearfit.thrust.pieces import Piece, piece_of, runs_of
from gearfit.thrust.resistance import Resistance

FloatArray = NDArray[np.float64]

_PIECES: Final = 6
_STEPS: Final = 4
#: ln w and ln j move by this at most in one step: stretches that are no riding would carry them off without end.
_LONGEST_STEP: Final = 1.5
#: Bend of the torque curve from knot to knot, as a share of its height.
_BEND_SD: Final = 0.06
#: What the model leaves out (gusts, slip, a throttle not quite open): spread of thrust from run to run, share.
_RUN_SD: Final = 0.01
#: Cap of a first gear that is held back, before the ride is looked at: share of what the engine could, and its spread.
_CAP_SHARE: Final = 0.75
_CAP_SHARE_SD: Final = 0.15
#: Where the search for a cap begins, shares of what the engine could, and its steps.
_CAP_STARTS: Final = (0.65, 0.8, 0.92)
_CAP_STEPS: Final = 8


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
    value : (k + 4,) or (k + 5,) float
        Torque coefficients per mass, a0, b, ln w, ln j; and the cap of first gear where it is taken to be held back.
    covariance : (k + 4, k + 4) or (k + 5, k + 5) float
        Of these.
    runs : int
        Runs that the stretches belong to.
    chi_square : float
        Weighted squares of the residuals for each degree of freedom.
    log_evidence : float
        Logarithm of the probability of the speeds but for a constant, the same for all fits to the same stretches.
    """

    curve: RpmCurve
    value: FloatArray
    covariance: FloatArray
    runs: int
    chi_square: float
    log_evidence: float

    @property
    def cap_mps2(self) -> float:
        """Highest thrust per mass in first gear; infinite where nothing holds it back."""
        k = self.curve.size
        return float(self.value[k + 4]) if self.value.size > k + 4 else np.inf


@dataclass(frozen=True, eq=False)
class Question:
    """Stretches and what is known beforehand.

    Attributes
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

    stretches: list[Open]
    speed_per_rpm: dict[int, float]
    usual: Resistance
    turning: Turning
    noise: Noise


def fit_thrust(question: Question, hand_sd: float | None = None) -> ThrustFit:
    """Fit the torque curve.

    Parameters
    ----------
    question : Question
        The stretches.
    hand_sd : float, optional
        Spread of the share of thrust from stretch to stretch; by default each run has its own.
    """
    return _Equations.of(question, hand_sd).solved(None)


def fit_held_back(question: Question, free: ThrustFit) -> ThrustFit | None:
    """Fit with a first gear that something holds back; None where such a cap would hold nothing back.

    Parameters
    ----------
    question : Question
        The stretches, among them some of first gear.
    free : ThrustFit
        The fit to them without a cap, from which the search begins.
    """
    equations = _Equations.of(question, None)
    most = equations.most_in_first(free.value[: free.curve.size])
    found = [equations.solved((free.value, share * most, most)) for share in _CAP_STARTS]
    held = [one for one in found if one.cap_mps2 < equations.most_in_first(one.value[: one.curve.size])]
    return max(held, key=lambda one: one.log_evidence) if held else None


#: Where a search for a cap begins: values of a fit without one, the cap, and the thrust that the engine could give.
_Start = tuple[FloatArray, float, float]


@dataclass(frozen=True, eq=False)
class _Equations:
    pieces: list[Piece]
    curve: RpmCurve
    usual: Resistance
    turning: Turning
    noise: Noise
    grade_sd: FloatArray
    shares: int
    share_sd: float

    @staticmethod
    def of(question: Question, hand_sd: float | None) -> _Equations:
        stretches, per_rpm = question.stretches, question.speed_per_rpm
        driven = [s for s in stretches if s.gear > 0]
        rpm = np.concatenate([s.trace.speed_mps[s.place] / per_rpm[s.gear] for s in driven])
        curve = RpmCurve(float(rpm.min()), float(rpm.max()), _PIECES)
        run_of = runs_of(stretches)
        share_of = run_of if hand_sd is None else list(range(len(stretches)))
        pieces = [
            piece_of(s, curve, per_rpm, run, share) for s, run, share in zip(stretches, run_of, share_of, strict=True)
        ]
        grade_sd = [
            next(s.trace.grade_sd for s, r in zip(stretches, run_of, strict=True) if r == k) for k in set(run_of)
        ]
        return _Equations(
            pieces,
            curve,
            question.usual,
            question.turning,
            question.noise,
            np.array(grade_sd),
            len(set(share_of)),
            _RUN_SD if hand_sd is None else hand_sd,
        )

    def most_in_first(self, torque: FloatArray) -> float:
        """Highest thrust per mass that a torque curve gives in first gear, at the engine speeds seen there."""
        return max(float(np.max(piece.drive @ torque)) for piece in self.pieces if piece.gear == 1)

    def solved(self, start: _Start | None) -> ThrustFit:
        """Solve by Gauss-Newton steps, with a cap where a start for it is given."""
        k = self.curve.size
        main = k + 4 + (start is not None)
        value = np.zeros(main + self.grade_sd.size + self.shares)
        if start is None:
            value[:k] = _first_torque(self.pieces, self.turning, self.usual)
            value[k : k + 4] = self._means()
        else:
            value[: k + 4], value[k + 4] = start[0][: k + 4], start[1]
        most = None if start is None else start[2]
        for _ in range(_STEPS if start is None else _CAP_STEPS):
            normal, right, squares, count = self._normal_equations(value, main)
            precision, mean = self._prior(value, main, most)
            covariance: FloatArray = np.linalg.inv(normal + precision).astype(np.float64)
            found = covariance @ (right + precision @ mean)
            turning = slice(k + 2, k + 4)
            found[turning] = value[turning] + np.clip(found[turning] - value[turning], -_LONGEST_STEP, _LONGEST_STEP)
            value = found
        normal, _, squares, count = self._normal_equations(value, main)
        # What is left of the squares at the solution; a model that misses the data widens the covariance.
        chi_square = squares / max(count - k, 1)
        scale = max(1.0, chi_square)
        away = value - mean
        log_evidence = -0.5 * (squares + float(away @ precision @ away)) - 0.5 * _log_determinant(normal + precision)
        log_evidence += 0.5 * self._log_prior(precision, k)
        return ThrustFit(
            self.curve,
            value[:main],
            covariance[:main, :main] * scale,
            self.grade_sd.size,
            chi_square,
            log_evidence,
        )

    def _means(self) -> FloatArray:
        logs = np.log([self.turning.wheels, self.turning.engine_m2])
        return np.array([self.usual.rolling_mps2, self.usual.air_per_m, *logs])

    def _normal_equations(self, value: FloatArray, main: int) -> tuple[FloatArray, FloatArray, float, int]:
        """Sum up X'S^-1 X and X'S^-1 z over the stretches, each rid of its own v0; and the squares left at `value`."""
        k, size = self.curve.size, value.size
        normal, right = np.zeros((size, size)), np.zeros(size)
        squares, count = 0.0, 0
        wheels, engine = np.exp(value[k + 2]), np.exp(value[k + 3])
        cap = value[k + 4] if main > k + 4 else np.inf
        for piece in self.pieces:
            inertia = 1 + wheels + engine * piece.lever**2
            columns = piece.columns(value[:k], cap) / inertia
            held = columns[:, k + 2] * cap if main > k + 4 else 0.0
            drive = columns[:, :k] @ value[:k] + held
            gained = drive + columns[:, k : k + 2] @ value[k : k + 2] - piece.hill / inertia
            wide = np.zeros((piece.time.size, size))
            wide[:, : k + 2] = columns[:, : k + 2]
            wide[:, k + 2] = -wheels / inertia * gained
            wide[:, k + 3] = -engine * piece.lever**2 / inertia * gained
            wide[:, k + 4 : main] = columns[:, k + 2 :][:, : main - k - 4]
            wide[:, main + piece.run] = -GRAVITY_MPS2 * piece.passed / inertia
            wide[:, main + self.grade_sd.size + piece.share] = drive
            # Linearised about `value`: what is left plus the linear part of the value itself.
            left = piece.speed - gained - wide[:, main:] @ value[main:]
            target = left + wide @ value
            weights = weighting(piece.time, np.ones(piece.time.size), self.noise)
            both = np.column_stack([wide, target, left, np.ones(piece.time.size)])
            weighted = weights.apply(both)
            ones = weighted[:, -1]
            product = both.T @ weighted - np.outer(both.T @ ones, both.T @ ones) / float(ones.sum())
            normal += product[:size, :size]
            right += product[:size, size]
            squares += float(product[size + 1, size + 1])
            count += piece.time.size - 1
        return normal, right, squares, count

    def _prior(self, value: FloatArray, main: int, most: float | None) -> tuple[FloatArray, FloatArray]:
        """Return what is known beforehand: precision matrix and mean."""
        k, size = self.curve.size, value.size
        precision, mean = np.zeros((size, size)), np.zeros(size)
        height = float(np.mean(np.abs(value[:k])))
        bend = self.curve.roughness() / (_BEND_SD * height)
        precision[:k, :k] = bend.T @ bend
        usual, turning = self.usual, self.turning
        sds = [usual.rolling_sd_mps2, usual.air_sd_per_m, turning.wheels_log_sd, turning.engine_log_sd]
        mean[k : k + 4] = self._means()
        if most is not None:
            mean[k + 4] = _CAP_SHARE * most
            sds.append(_CAP_SHARE_SD * most)
        each = np.r_[sds, self.grade_sd, np.full(self.shares, self.share_sd)]
        place = np.arange(k, size)
        precision[place, place] = each**-2.0
        return precision, mean

    def _log_prior(self, precision: FloatArray, k: int) -> float:
        """Logarithm of the determinant of the prior's precision, but for the level and slope that it leaves free."""
        bends = np.linalg.eigvalsh(precision[:k, :k])[2:]
        return float(np.sum(np.log(bends)) + np.sum(np.log(np.diag(precision)[k:])))


def _log_determinant(matrix: FloatArray) -> float:
    return float(np.linalg.slogdet(matrix)[1])


def _first_torque(pieces: list[Piece], turning: Turning, usual: Resistance) -> float:
    found = []
    for piece in pieces:
        if piece.lever > 0:
            gained = (piece.speed[-1] - piece.speed[0]) / piece.passed[-1]
            load = usual.rolling_mps2 + usual.air_per_m * float(np.mean(piece.speed**2))
            inertia = 1 + turning.wheels + turning.engine_m2 * piece.lever**2
            found.append((gained * inertia + load) / piece.lever)
    return float(np.median(found))
