"""What the engine speeds of one ride lack throughout.

An engine speed that lacks e, recorded as n - e, lowers ln(n/v) by e/n: less at high engine speed than at low, in every
gear.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.correlated import weighting
from gearfit.fitting.ratios.joint import USUAL_SLIP, USUAL_SLIP_SD, InGear, columns

FloatArray = NDArray[np.float64]

#: More than any logger is believed to be off, rev/min.
LARGEST_RPM: Final = 300.0
#: Passages needed, each a cluster of the robust standard error.
_LEAST_PASSAGES: Final = 12
_HELD_MPS: Final = 1e-7
#: Only samples whose speed changes by less than this are looked at, 1/s: what a receiver that filters does to the
#: others looks much like an offset (ours).
_CALM_PER_S: Final = 0.02


@dataclass(frozen=True)
class EngineOffset:
    """What the recorded engine speeds lack by what one ride shows, and its standard error, rev/min."""

    missing_rpm: float
    se_rpm: float


def engine_offset(s: InGear, lag_sd_s: float, offset_sd_mps: float) -> EngineOffset | None:
    """Find what the engine speeds of one stream lack; None with fewer than 12 passages.

    Least squares as `gearfit.fitting.ratios.joint.solve`, with a column -1/n. The standard error is the larger one of
    the model's and the cluster-robust one over passages (K.-Y. Liang and S. Zeger, Biometrika 73(1), 13, 1986).

    Parameters
    ----------
    s : InGear
        Samples, with what is known of the lag already taken out.
    lag_sd_s, offset_sd_mps : float
        What is still open of the lag and of the speeds' own offset.
    """
    calm = np.abs(s.rate) < _CALM_PER_S
    s = InGear(
        s.time_s[calm], s.speed_mps[calm], s.log_ratio[calm], s.rate[calm], s.gear[calm], s.passage[calm], s.noise
    )
    first = np.flatnonzero(np.diff(s.passage, prepend=-1))
    gears, place = np.unique(s.gear, return_inverse=True)
    if first.size < _LEAST_PASSAGES:
        return None
    known = columns(s, place, gears.size)
    level = np.bincount(place, s.log_ratio) / np.bincount(place)
    engine_rpm = np.exp(level[place]) * s.speed_mps
    y, x = known[:, -1], np.column_stack([known[:, :-1], -1 / engine_rpm])
    sd = np.array([lag_sd_s, max(offset_sd_mps, _HELD_MPS), USUAL_SLIP_SD, LARGEST_RPM])
    precision = np.concatenate([np.zeros(gears.size), sd**-2])
    moment = np.zeros(precision.size)
    moment[-2] = USUAL_SLIP * precision[-2]
    heavy = weighting(s.time_s, s.speed_mps, s.noise).apply(np.asfortranarray(np.column_stack([x, y])))
    covariance = np.linalg.inv(x.T @ heavy[:, :-1] + np.diag(precision))
    solution = covariance @ (x.T @ heavy[:, -1] + moment)
    force = heavy[:, -1] - heavy[:, :-1] @ solution
    pull = np.add.reduceat(x * force[:, None], first)
    robust = covariance @ (np.diag(precision) + pull.T @ pull) @ covariance
    return EngineOffset(float(solution[-1]), float(np.sqrt(max(covariance[-1, -1], robust[-1, -1]))))
