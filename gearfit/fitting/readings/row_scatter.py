"""How much hand-written readings scatter, and which of them do not belong.

The readings y of a linear model X b scatter by their own reading error (variance v, known) and by how steadily the
rider held the needle (variance tau^2, not known):

    y = X b + O d + e,     e ~ N(0, v + tau^2),     d ~ N(0, 1),            (17) of docs/method.md

the columns of O being errors that all readings of one instrument share. What is known of tau is its posterior: the
restricted likelihood of the residuals (H. D. Patterson and R. Thompson, Biometrika 58, 545, 1971) times what is known
of riders. An interval is that of the mixture of normal laws over this posterior, told as Student's t with the degrees
of freedom that give the same 97.5 % point.

A reading does not belong where a column of its own explains it: the mean-shift model of outliers (R. D. Cook and
S. Weisberg, Residuals and Influence in Regression, 1982, section 2.2), judged at the scatter that the others show.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import fdtri, ndtr

from gearfit.fitting.ratios.quantiles import FAMILY_LEVEL, t_quantile

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Scatter of held engine speeds among riders: median, share, and sd of its logarithm: 19 of 20 hold to between 0.1
#: and 10 % (our assumption, wide on purpose; it matters where a notebook has few readings).
USUAL_SCATTER: Final = 0.010
_USUAL_SPREAD: Final = 1.2
#: Values of tau that the posterior is summed over.
GRID: Final = np.geomspace(0.0004, 0.12, 33)
#: Bounds of the degrees of freedom told: more than the first change nothing.
_MOST_DOF, _LEAST_DOF = 200.0, 1.0
#: Share of the readings that may be called odd: beyond that the model is at fault (our assumption).
_MOST_ODD: Final = 0.34
#: A column explains nothing of its own below this share of its length, and two are the same above this correlation.
_DEPENDENT: Final = 1e-6
_SAME: Final = 1 - 1e-6
#: Squares of t less apart than this are odds below 20 : 1.
_NEARLY: Final = 6.0


@dataclass(frozen=True, eq=False)
class Model:
    """What is fitted to the readings.

    Attributes
    ----------
    design : (n, p) float
        X, of full column rank.
    shared : (n, q) float
        O, in standard deviations of the shared errors.
    values, reading_variance : (n,) float
        y and v.
    repeats : (n,) float
        How often each was taken, with the same result: its scatter is tau / sqrt(repeats). 0 for what is no reading by
        hand, is known by v alone and never odd.
    """

    design: FloatArray
    shared: FloatArray
    values: FloatArray
    reading_variance: FloatArray
    repeats: FloatArray

    @property
    def held(self) -> BoolArray:
        """Readings by hand."""
        return self.repeats > 0

    def with_columns(self, columns: FloatArray) -> Model:
        """Return the model with further columns in its design, without those that it makes up already."""
        design = independent(np.column_stack([self.design, columns]))
        return Model(design, self.shared, self.values, self.reading_variance, self.repeats)

    @property
    def share_of_scatter(self) -> FloatArray:
        """What each has of tau^2, (n,)."""
        return np.where(self.held, 1 / np.maximum(self.repeats, 1.0), 0.0)

    @property
    def dof(self) -> int:
        """Readings less parameters."""
        return int(self.values.size - self.design.shape[1])


@dataclass(frozen=True, eq=False)
class Scattered:
    """A model at its scatter.

    Attributes
    ----------
    scatter : float
        tau, ln ratio: geometric mean over its posterior.
    dof : float
        Degrees of freedom with which a reading's variance v + tau^2 is known.
    log_evidence : float
        Of the model, for others that differ in values and reading errors only.
    posterior : (33,) float
        Weight of each value of tau.
    """

    scatter: float
    dof: float
    log_evidence: float
    posterior: FloatArray


def independent(columns: FloatArray) -> FloatArray:
    """Leave out columns that those before them make up."""
    basis = np.empty((columns.shape[0], 0))
    kept: list[int] = []
    for i, column in enumerate(columns.T):
        own = column - basis @ (basis.T @ column)
        length = float(np.linalg.norm(own))
        if length > _DEPENDENT * float(np.linalg.norm(column)):
            basis, kept = np.column_stack([basis, own / length]), [*kept, i]
    return columns[:, kept]


def fit_scatter(model: Model) -> Scattered:
    """Find what the readings of a model show of their scatter."""
    own = float(np.mean(model.reading_variance[model.held]))
    return _weighed(np.array([_log_likelihood(model, tau**2) for tau in GRID]), own + GRID**2)


def scattered(models: Sequence[Model], log_mass: FloatArray) -> Scattered:
    """Find the same from models of which each holds what is known at one value of tau, and mass beside."""
    score = np.array([_log_likelihood(model, 0.0) for model in models]) + log_mass
    return _weighed(score, np.array([np.mean(model.reading_variance) for model in models]))


def _weighed(score: FloatArray, variance: FloatArray) -> Scattered:
    """Weigh the values of tau by log likelihood and prior; `variance` is that of one level at each of them."""
    score = score - 0.5 * (np.log(GRID / USUAL_SCATTER) / _USUAL_SPREAD) ** 2
    evidence = float(score.max() + np.log(np.sum(np.exp(score - score.max()))))
    posterior = np.exp(score - score.max())
    posterior = posterior / posterior.sum()
    scatter = float(np.exp(posterior @ np.log(GRID)))
    told = np.exp(np.interp(np.log(scatter), np.log(GRID), np.log(variance)))
    return Scattered(scatter, _told_dof(np.sqrt(variance / told), posterior), evidence, posterior)


def _told_dof(scale: FloatArray, weight: FloatArray) -> float:
    """Degrees of freedom of the Student's t with the 97.5 % point of a mixture of normal laws of mean 0."""

    def missing(dof: float) -> float:
        return float(weight @ ndtr(-t_quantile(0.975, dof) / scale)) - 0.025

    if missing(_MOST_DOF) <= 0:
        return _MOST_DOF
    return float(brentq(missing, _LEAST_DOF, _MOST_DOF, xtol=0.01)) if missing(_LEAST_DOF) < 0 else _LEAST_DOF


@dataclass(frozen=True, eq=False)
class OddReadings:
    """What a search for readings that do not belong has found.

    Attributes
    ----------
    columns : (n, k) float
        A column for each finding, in the order found.
    names : tuple of int
        Which of the candidates each is.
    twins : tuple of tuple of int
        Candidates that explain exactly the same as each, so that it cannot be said which is at fault.
    rivals : tuple of tuple of int
        Candidates that explain nearly as much as each (20 : 1).
    t : tuple of float
        |t| of each when it was found.
    amount : (k,) float
        By how much each moves its readings.
    fit : Scattered
        The model with these columns.
    """

    columns: FloatArray
    names: tuple[int, ...]
    twins: tuple[tuple[int, ...], ...]
    rivals: tuple[tuple[int, ...], ...]
    t: tuple[float, ...]
    amount: FloatArray
    fit: Scattered


def find_odd(
    model: Model, candidates: FloatArray, one_sided: BoolArray | None = None, family: int | None = None
) -> OddReadings:
    """Search, one after the other, for candidates that explain more than chance would among all that are distinct.

    Parameters
    ----------
    model : Model
        With nothing explained away.
    candidates : (n, m) float
        Columns that stand for what may be wrong: a row, a gear.
    one_sided : (m,) bool, optional
        Those of which only positive amounts are possible.
    family : int, optional
        How many of the first count when it is reckoned what chance does; those after them are other words for the same.
    """
    one_sided = np.zeros(candidates.shape[1], dtype=bool) if one_sided is None else one_sided
    fit = fit_scatter(model)
    chosen: list[int] = []
    twins: list[tuple[int, ...]] = []
    rivals: list[tuple[int, ...]] = []
    sizes: list[float] = []
    now = model
    by_chance = 1 - FAMILY_LEVEL ** (
        1 / max(_distinct(_candidate_t(model, fit.scatter**2, candidates[:, :family])[1]), 1)
    )
    while len(chosen) < _MOST_ODD * int(model.held.sum()) and now.dof > 0:
        t, normed = _candidate_t(now, fit.scatter**2, candidates)
        t = np.where(one_sided, np.maximum(t, 0.0), np.abs(t))
        best = int(np.argmax(t))
        if t[best] == 0.0:
            break
        richer = now.with_columns(candidates[:, [best]])
        richer_fit = fit_scatter(richer)
        sizes_t = np.abs([_candidate_t(now, tau**2, candidates[:, [best]])[0][0] for tau in GRID])
        if 2 * float(richer_fit.posterior @ ndtr(-sizes_t)) >= by_chance:
            break
        same = np.flatnonzero(np.abs(normed.T @ normed[:, best]) > _SAME)
        near = np.flatnonzero(t**2 > t[best] ** 2 - _NEARLY)
        chosen.append(best)
        rivals.append(tuple(int(i) for i in near if i != best))
        twins.append(tuple(int(i) for i in same if i != best))
        sizes.append(float(np.interp(np.log(richer_fit.scatter), np.log(GRID), sizes_t)))
        now, fit = richer, richer_fit
    amount = _solved(now, fit.scatter**2)[model.design.shape[1] :]
    return OddReadings(candidates[:, chosen], tuple(chosen), tuple(twins), tuple(rivals), tuple(sizes), amount, fit)


def _distinct(normed: FloatArray) -> int:
    """Count the columns (normed, or 0) that are not the same as one before them."""
    same = np.abs(np.triu(normed.T @ normed, 1)) > _SAME
    return int(np.count_nonzero(np.any(normed != 0.0, axis=0) & ~same.any(axis=0)))


def fits_better(free: Model, strict: Model) -> bool:
    """Tell whether a freer model fits better than a strict one by more than chance does in 1 % of cases (F test)."""
    spare = strict.dof - free.dof
    if spare <= 0:
        return False
    loose = fit_scatter(free)
    strict_q, free_q = (float(np.sum(_whitened(m, loose.scatter**2)[0] ** 2)) for m in (strict, free))
    return bool((strict_q - free_q) / spare > fdtri(spare, loose.dof, FAMILY_LEVEL))


def _variance(model: Model, scatter2: float) -> FloatArray:
    variance: FloatArray = model.reading_variance + scatter2 * model.share_of_scatter
    return variance


def _whitened(model: Model, scatter2: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return residuals of the weighted fit (the shared errors' priors below), orthonormal basis, diagonal of R."""
    n, q = model.values.size, model.shared.shape[1]
    sd = np.sqrt(_variance(model, scatter2))
    p = model.design.shape[1]
    columns = np.zeros((n + q, p + q))
    columns[:n, :p] = model.design / sd[:, None]
    columns[:n, p:] = model.shared / sd[:, None]
    columns[n:, p:] = np.eye(q)
    values = np.concatenate([model.values / sd, np.zeros(q)])
    basis, triangle = np.linalg.qr(columns)
    residual = values - basis @ (basis.T @ values)
    return residual, basis, np.abs(np.diag(triangle))


def _solved(model: Model, scatter2: float) -> FloatArray:
    """Return b of (17) at a given scatter."""
    sd = np.sqrt(_variance(model, scatter2) + np.sum(model.shared**2, axis=1))
    found, *_ = np.linalg.lstsq(model.design / sd[:, None], model.values / sd, rcond=None)
    return np.asarray(found)


def last_coefficient(model: Model, scatter: float) -> tuple[float, float]:
    """Coefficient of the last column of a model, and its standard error."""
    residual_free = Model(model.design[:, :-1], model.shared, model.values, model.reading_variance, model.repeats)
    residual, basis, _ = _whitened(residual_free, scatter**2)
    full = np.zeros(basis.shape[0])
    full[: model.values.size] = model.design[:, -1] / np.sqrt(_variance(model, scatter**2))
    own = full - basis @ (basis.T @ full)
    length2 = float(own @ own)
    return float(own @ residual) / length2, length2**-0.5


def _log_likelihood(model: Model, scatter2: float) -> float:
    """Restricted log likelihood of a scatter."""
    residual, _, triangle = _whitened(model, scatter2)
    size = float(np.sum(np.log(_variance(model, scatter2)))) / 2 + float(np.sum(np.log(triangle)))
    return -size - 0.5 * float(residual @ residual)


def _candidate_t(model: Model, scatter2: float, candidates: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return t of each candidate column at a given scatter, 0 where it explains nothing; its own part, normed."""
    residual, basis, _ = _whitened(model, scatter2)
    n = model.values.size
    full = np.zeros((basis.shape[0], candidates.shape[1]))
    full[:n] = candidates / np.sqrt(_variance(model, scatter2))[:, None]
    own = full - basis @ (basis.T @ full)
    length, whole = np.linalg.norm(own, axis=0), np.linalg.norm(full, axis=0)
    usable = length > _DEPENDENT * np.maximum(whole, 1e-300)
    normed = np.where(usable, own / np.where(usable, length, 1.0), 0.0)
    return normed.T @ residual, normed
