"""The lag between engine speed and road speed to a tenth of a second, before any gear is known."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from gearfit.fitting.pairing.density import concentration
from gearfit.fitting.pairing.observed import moving
from gearfit.fitting.pairing.stream import Stream

#: Lags tried first, s.
_LAGS_S: Final = np.arange(-0.6, 1.01, 0.1)
#: Width with which ratios are smeared beside their errors, ln ratio; fewer samples than this tell nothing.
_SLACK: Final = 0.004
_LEAST_SAMPLES: Final = 100
_ENOUGH_SAMPLES: Final = 7000


def coarse_lag(stream: Stream) -> float:
    """Return the lag at which the ratios crowd most; some thousand samples, spread over the ride, are looked at."""
    stream = thinned(stream)
    speed, rpm_sd = stream.speed_mps, stream.rpm_sd_at_speed
    with np.errstate(divide="ignore"):
        speed_share2 = (stream.speed_sd_mps / speed) ** 2
    best, best_lag_s = -np.inf, 0.0
    for lag_s in _LAGS_S:
        rpm = stream.rpm_at_speed(float(lag_s))
        kept = moving(stream, speed, rpm)
        if kept.size < _LEAST_SAMPLES:
            return 0.0
        v, n = speed.take(kept), rpm.take(kept)
        sd = np.sqrt(speed_share2.take(kept) + (rpm_sd.take(kept) / n) ** 2 + _SLACK**2)
        crowding = concentration(np.log(n / v), sd)
        if crowding > best:
            best, best_lag_s = crowding, float(lag_s)
    return best_lag_s


def thinned(stream: Stream) -> Stream:
    """Return the stream with 7000 of its speeds at most, spread over the ride."""
    every = max(1, -(-stream.time_s.size // _ENOUGH_SAMPLES))
    return replace(
        stream,
        rows=stream.rows[::every],
        time_s=stream.time_s[::every],
        speed_mps=stream.speed_mps[::every],
        speed_sd_mps=stream.speed_sd_mps[::every],
    )
