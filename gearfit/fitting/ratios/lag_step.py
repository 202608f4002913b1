"""One step towards the lag of each stream, and whether its coarse speeds were cut down or rounded."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.observed import Observed
from gearfit.fitting.ratios.cut_speeds import cut_or_rounded, ladder_log_odds, without_prior
from gearfit.fitting.ratios.joint import solve
from gearfit.fitting.ratios.settled_samples import in_gear
from gearfit.fitting.ratios.state import COARSE_STEP_MPS, State, lag_beliefs

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_LARGEST_LAG_S: Final = 2.0


def improve(
    states: Sequence[State],
    observed: Sequence[Observed],
    paths: Sequence[IntArray],
    sd: Sequence[FloatArray],
    centres: FloatArray,
    stated: FloatArray | None,
) -> float:
    """Take one step towards each stream's lag, and weigh whether its coarse speeds were cut down or rounded.

    `stated` is the ladder of the tooth counts, ln ratio.

    Returns the longest step, s.
    """
    active, samples = in_gear(states, observed, paths, sd, centres)
    if not samples:
        return 0.0
    steps = [state.stream.speed_step_mps for state in active]
    open_priors = [
        (step / 4 - state.offset_mps, step / 3) if step >= COARSE_STEP_MPS else (0.0, 0.0)
        for step, state in zip(steps, active, strict=True)
    ]
    (beyond_s, sd_s), now = lag_beliefs(active), [s.offset_mps for s in active]
    found = solve(samples, beyond_s, sd_s, open_priors)
    offsets: list[tuple[float, float]] = []
    for i, state in enumerate(active):
        state.lag_s = float(np.clip(state.lag_s + found.lag_s[i], -_LARGEST_LAG_S, _LARGEST_LAG_S))
        if steps[i] >= COARSE_STEP_MPS:
            measured, se = without_prior(
                now[i] + found.offset_mps[i], found.offset_se_mps[i], steps[i] / 4, steps[i] / 3
            )
            beside = 0.0
            if stated is not None:
                moves = (-now[i], steps[i] / 2 - now[i])
                beside = ladder_log_odds(samples, beyond_s, sd_s, open_priors, i, moves, stated)
            offsets.append(cut_or_rounded(measured, se, steps[i] / 2, beside))
        else:
            offsets.append((state.offset_mps, state.offset_sd_mps))
    for state, (offset, spread) in zip(active, offsets, strict=True):
        state.offset_mps, state.offset_sd_mps = offset, spread
    return float(np.max(np.abs(found.lag_s)))
