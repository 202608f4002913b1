"""Whether speeds written in coarse steps were cut down to the step below, or rounded.

The fit finds a constant error of the speeds; only two values make sense, half a step and none. Their odds follow from
what the samples alone say (Bayes, even odds beforehand); what stays is an expected offset and its spread.
"""

from __future__ import annotations

import numpy as np


def without_prior(mean: float, sd: float, prior_mean: float, prior_sd: float) -> tuple[float, float]:
    """Take a normal prior out of a normal posterior: what the data alone say."""
    precision = max(1 / sd**2 - 1 / prior_sd**2, 1e-9)
    return float((mean / sd**2 - prior_mean / prior_sd**2) / precision), float(precision**-0.5)


def cut_or_rounded(offset_mps: float, se_mps: float, half_step_mps: float) -> tuple[float, float]:
    """Weigh "cut down" (half a step is missing) against "rounded" (nothing is): expected offset and its sd."""
    odds = np.exp(np.clip((offset_mps**2 - (offset_mps - half_step_mps) ** 2) / (2 * se_mps**2), -50, 50))
    cut = odds / (1 + odds)
    return float(half_step_mps * cut), float(half_step_mps * np.sqrt(cut * (1 - cut)))
