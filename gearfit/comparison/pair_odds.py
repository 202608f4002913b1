"""What the rides say about the tooth pairs before and after, other explanations included.

Bayes' rule over all pairs before and after. Two things are measured. The change of road speed at the same engine speed
is sharp and tells the ratio of the two final drives. The level of each ride is wide, as tyre and tachometer are known
to some per cent, and tells each final drive by itself. What is no sprocket has its share: another tyre or wear between
the rides, setups exchanged, and something that nobody thought of.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from gearfit.comparison.pair_prior import Pairs
from gearfit.comparison.shown_reduction import Reduction

FloatArray = NDArray[np.float64]

#: Share of machines whose tyre changed between the rides without a word, and what that does (another of the same size
#: and wear, 1 to 2 % each; ours).
TYRE_SHARE: Final = 0.15
TYRE_SD: Final = 0.013
#: ... where another tyre is stated: how far its size or its stated circumference is off.
STATED_TYRE_SD: Final = 0.015
#: Share of folders with before and after exchanged, and with something else that moves all gears, by any factor from
#: 1/e to e alike: a unit, a wrong file, a wrong gear (ours).
_EXCHANGED: Final = 0.02
_ELSE: Final = 0.03
_ELSE_DENSITY: Final = 0.5
#: Factor on the standard deviation of the levels: tyre and tachometer are known by figures of ours, and pairs before
#: and after that change nearly alike would otherwise be told apart by them too boldly (ours, tried in the study).
_LEVEL_WIDER: Final = 1.25
#: Combinations further off than this many of both are not reckoned through: they have no share.
_FAR_TYRE_SDS: Final = 8.0
_FAR_SCALES: Final = 25.0
#: Setups that predict less than this are alike, ln.
_NO_CHANGE: Final = 1e-9


@dataclass(frozen=True)
class Measured:
    """What was measured.

    Attributes
    ----------
    log_change, scale, dof : float
        ln of the change of road speed at the same engine speed, its standard error with what two rides differ by
        anyway, and the degrees of freedom.
    log_tyre : float
        ln of what another stated tyre does to the change; 0 without one.
    reference, other : Reduction or None
        The reductions that the two rides show.
    """

    log_change: float
    scale: float
    dof: float
    log_tyre: float
    reference: Reduction | None
    other: Reduction | None


@dataclass(frozen=True, eq=False)
class Odds:
    """Probabilities that add up to 1: of all combinations of pairs, of an exchange, and of something else.

    Attributes
    ----------
    teeth : (P, 2) int
        Pairs looked at.
    joint : (P, P) float
        Of each pair before (first axis) and after, with the tyre as stated or not.
    tyre : float
        Part of `joint` in which the tyre changed without a word.
    exchanged, otherwise : float
        Of before and after exchanged, and of something that is neither teeth nor tyre.
    """

    teeth: NDArray[np.int64]
    joint: FloatArray
    tyre: float
    exchanged: float
    otherwise: float


def odds(pairs: Pairs, measured: Measured, stated: tuple[float, float] | None) -> Odds:
    """Weigh everything by what was measured.

    Parameters
    ----------
    pairs : Pairs
        All pairs with their weights beforehand.
    measured : Measured
        The change and the levels.
    stated : (float, float) or None
        ln of the stated reductions before and after; None where one is not stated.
    """
    reduction = np.log(pairs.teeth[:, 1] / pairs.teeth[:, 0])
    rest = measured.log_change - measured.log_tyre - (reduction[:, None] - reduction[None, :])
    near = np.nonzero(np.abs(rest) < max(_FAR_TYRE_SDS * TYRE_SD, _FAR_SCALES * measured.scale))
    weight = (1 - _EXCHANGED - _ELSE) * pairs.weight[near]
    share, same, other = _likelihoods(rest[near], measured)
    weight = weight * _level(measured, reduction[near[0]], reduction[near[1]])
    plain, with_tyre = weight * (1 - share) * same, weight * share * other
    exchanged = _EXCHANGED * _as_exchanged(measured, stated)
    either = _either_level(measured, reduction[:, None], reduction[None, :])
    otherwise = _ELSE * _ELSE_DENSITY * float(np.sum(pairs.weight * either))
    total = float(plain.sum() + with_tyre.sum()) + exchanged + otherwise
    joint = np.zeros_like(pairs.weight)
    if total == 0.0:  # beyond all pairs and tyres, too far for a float: neither can be what was measured
        return Odds(pairs.teeth, joint, 0.0, 0.0, 1.0)
    joint[near] = (plain + with_tyre) / total
    return Odds(pairs.teeth, joint, float(with_tyre.sum()) / total, exchanged / total, otherwise / total)


def _as_exchanged(measured: Measured, stated: tuple[float, float] | None) -> float:
    """Likelihood of the stated teeth and tyres the other way round; 0 where that would be no difference."""
    if stated is None or abs(stated[0] - stated[1] + measured.log_tyre) < _NO_CHANGE:
        return 0.0
    share, same, other = _likelihoods(
        np.array(measured.log_change + stated[0] - stated[1] + measured.log_tyre), measured
    )
    level = _level(measured, np.array(stated[1]), np.array(stated[0]))
    return float(level * ((1 - share) * same + share * other))


def _likelihoods(rest: FloatArray, measured: Measured) -> tuple[float, FloatArray, FloatArray]:
    """Return the share of an unstated change of tyre, and the densities of a misfit without it and with it."""
    stated_tyre = measured.log_tyre != 0
    scale = math.hypot(measured.scale, STATED_TYRE_SD) if stated_tyre else measured.scale
    wide = math.hypot(measured.scale * math.sqrt(measured.dof / max(measured.dof - 2, 1.0)), TYRE_SD)
    return (0.0 if stated_tyre else TYRE_SHARE), _student(rest / scale, measured.dof) / scale, _gauss(rest, wide)


def _level(measured: Measured, before: FloatArray, after: FloatArray) -> FloatArray:
    """Density of the mean departure of the rides from nominal tyre and true tachometer; 1 where no ride tells."""
    shown: Sequence[tuple[FloatArray, Reduction]] = [
        (stated, ride) for stated, ride in ((before, measured.reference), (after, measured.other)) if ride is not None
    ]
    if not shown:
        return np.ones(np.broadcast(before, after).shape)
    mean = sum((stated - ride.log_value for stated, ride in shown), np.zeros(())) / len(shown)
    se = math.hypot(*(ride.se for _, ride in shown)) / len(shown)
    return _gauss(mean, _LEVEL_WIDER * math.hypot(se, max(ride.known_sd for _, ride in shown)))


def _either_level(measured: Measured, before: FloatArray, after: FloatArray) -> FloatArray:
    """Density of the level of that ride which is nearer to nominal: something is wrong with the other one."""
    shape = np.broadcast(before, after).shape
    shown = [
        np.broadcast_to(_gauss(stated - ride.log_value, _LEVEL_WIDER * ride.sd), shape)
        for stated, ride in ((before, measured.reference), (after, measured.other))
        if ride is not None
    ]
    return np.max(shown, axis=0) if shown else np.ones(shape)


def _gauss(x: FloatArray, sd: float) -> FloatArray:
    density: FloatArray = np.exp(-0.5 * (x / sd) ** 2) / (math.sqrt(2 * math.pi) * sd)
    return density


def _student(z: FloatArray, dof: float) -> FloatArray:
    log_norm = float(gammaln((dof + 1) / 2) - gammaln(dof / 2)) - 0.5 * math.log(dof * math.pi)
    density: FloatArray = np.exp(log_norm - (dof + 1) / 2 * np.log1p(z**2 / dof))
    return density
