"""Whether speeds written in coarse steps were cut down to the step below, or rounded.

The fit finds a constant error of the speeds; only two values make sense, half a step and none. Their odds follow from
what the samples alone say (Bayes, even odds beforehand) and, where tooth counts are known, from how well the gears then
lie on them: half a step bends the ladder, low gears most. What stays is an expected offset and its spread.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.joint import InGear, solve

FloatArray = NDArray[np.float64]

#: How far a gear may lie off the stated tooth counts before they count as misstated, ln ratio (sd; our assumption).
_LADDER_SD: Final = 0.003
#: Misfit per gear from which the tooth counts are not believed.
_DISBELIEVED: Final = 6.0


def without_prior(mean: float, sd: float, prior_mean: float, prior_sd: float) -> tuple[float, float]:
    """Take a normal prior out of a normal posterior: what the data alone say."""
    precision = max(1 / sd**2 - 1 / prior_sd**2, 1e-9)
    return float((mean / sd**2 - prior_mean / prior_sd**2) / precision), float(precision**-0.5)


def ladder_log_odds(
    samples: Sequence[InGear],
    lag_now_s: FloatArray,
    lag_prior_sd_s: FloatArray | float,
    offset_prior: Sequence[tuple[float, float]],
    stream: int,
    offset_mps: tuple[float, float],
    ladder: FloatArray,
) -> float:
    """Log odds of the second of two offsets of one stream against the first: which lays the gears on the ladder.

    Parameters
    ----------
    samples, lag_now_s, lag_prior_sd_s, offset_prior
        As `gearfit.fitting.ratios.joint.solve`.
    stream : int
        Position of the stream whose offset is held at each of `offset_mps` in turn.
    ladder : (G,) float
        ln of the stated ratios of all gears.

    Returns
    -------
    float
        0 where neither lays the gears on the ladder: then the tooth counts cannot be believed.
    """
    misfits, gears = [], 0
    for offset in offset_mps:
        held = [*offset_prior[:stream], (offset, 0.0), *offset_prior[stream + 1 :]]
        found = solve(samples, lag_now_s, lag_prior_sd_s, held)
        misfits.append(_misfit(found.level, found.covariance, ladder[found.gear]))
        gears = found.gear.size
    return 0.5 * (misfits[0] - misfits[1]) if min(misfits) <= _DISBELIEVED * gears else 0.0


def _misfit(level: FloatArray, covariance: FloatArray, ladder: FloatArray) -> float:
    """Squared misfit of gears' levels and stated ratios, the best common shift taken out."""
    weight = np.linalg.inv(covariance + _LADDER_SD**2 * np.eye(level.size))
    apart = level - ladder
    apart = apart - float((weight @ apart).sum() / weight.sum())
    return float(apart @ weight @ apart)


def cut_or_rounded(
    offset_mps: float, se_mps: float, half_step_mps: float, log_odds: float = 0.0
) -> tuple[float, float]:
    """Weigh "cut down" (half a step is missing) against "rounded" (nothing is): expected offset and its sd.

    `log_odds` is what is known beside the samples, in favour of "cut down".
    """
    shown = (offset_mps**2 - (offset_mps - half_step_mps) ** 2) / (2 * se_mps**2)
    odds = np.exp(np.clip(shown + log_odds, -50, 50))
    cut = odds / (1 + odds)
    return float(half_step_mps * cut), float(half_step_mps * np.sqrt(cut * (1 - cut)))
