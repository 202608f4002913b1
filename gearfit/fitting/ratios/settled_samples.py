"""The samples that the levels rest on: in gear, away from shifts, not wild, with the noise that they show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.pairing.observed import Observed
from gearfit.fitting.ratios.coarse_rpm import telling
from gearfit.fitting.ratios.correlated import Noise
from gearfit.fitting.ratios.joint import InGear
from gearfit.fitting.ratios.noise import noise_of, scatter
from gearfit.fitting.ratios.state import State
from gearfit.fitting.which_gear.evidence import SLACK
from gearfit.fitting.which_gear.passage import passages, settled

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Samples farther than this many standard errors from their gear's centre are not used for its level.
_WILD_SD: Final = 4.0
#: Noise taken for granted where fewer than 30 samples are in gear (a receiver on an open road; our assumption).
USUAL_NOISE: Final = Noise(white_mps=0.05, correlated_mps=0.1, correlation_s=1.5, relative=0.003)


def in_gear(
    states: Sequence[State],
    observed: Sequence[Observed],
    paths: Sequence[IntArray],
    sd: Sequence[FloatArray],
    centres: FloatArray,
) -> tuple[list[State], list[InGear]]:
    """Collect each stream's samples in gear, away from shifts and not wild; streams without any are left out."""
    kept_states, kept = [], []
    for state, o, path, s in zip(states, observed, paths, sd, strict=True):
        number = passages(o.time_s, path)
        level = centres[np.clip(path, 0, None)]
        use = settled(o.time_s, path, number) & np.isfinite(o.rpm_rate) & (np.abs(o.log_ratio - level) < _WILD_SD * s)
        if not use.any():
            continue
        use[use] = telling(state.stream, o.time_s[use] - o.lag_s, path[use])
        speed = o.engine_rpm[use] * np.exp(-level[use])
        residual = o.log_ratio[use] - level[use]
        noise = noise_of(o.time_s[use], residual, speed, state.rpm_share) or _usual_noise(residual, speed)
        bias = 0.5 * (noise.variance(speed) - noise.relative**2)
        kept_states.append(state)
        kept.append(
            InGear(o.time_s[use], speed, o.log_ratio[use] - bias, o.rpm_rate[use], path[use], number[use], noise)
        )
    return kept_states, kept


def _usual_noise(residual: FloatArray, speed_mps: FloatArray) -> Noise:
    """Noise of a stream with few samples in gear: what they show, but no less than is usual for a receiver."""
    found = float(np.sqrt(np.mean((residual * speed_mps) ** 2)))
    return replace(USUAL_NOISE, correlated_mps=max(found, USUAL_NOISE.correlated_mps))


def with_slack(log_ratio_sd: FloatArray) -> FloatArray:
    """Return standard errors with the slack about a gear's centre in them."""
    return np.sqrt(log_ratio_sd**2 + SLACK**2)


def standard_errors(observed: Sequence[Observed], centres: FloatArray) -> list[FloatArray]:
    """Return the standard errors of the samples' ln ratios as their scatter about the gears' centres shows them."""
    stated = [with_slack(o.log_ratio_sd) for o in observed]
    log_ratio = np.concatenate([o.log_ratio for o in observed])
    ascending = np.sort(centres)
    nearest = np.zeros(log_ratio.size, dtype=np.int64)
    for middle in (ascending[1:] + ascending[:-1]) / 2:
        nearest += log_ratio > middle
    residual = log_ratio - ascending[nearest]
    near = np.abs(residual) < 4 * np.concatenate(stated)
    found = scatter(residual[near], np.concatenate([o.speed_mps for o in observed])[near])
    if found is None:
        return stated
    speed_sd, rpm_sd = found
    return [np.sqrt((speed_sd / o.speed_mps) ** 2 + rpm_sd**2) for o in observed]
