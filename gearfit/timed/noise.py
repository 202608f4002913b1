"""How much the speeds of a trace scatter: a white part, a part that hangs together, and how rough the course is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.timed.smooth import log_likelihood
from gearfit.timed.trace import BoolArray, Trace

FloatArray = NDArray[np.float64]

#: The part of a receiver's error that hangs together where the ride does not show it (our assumption): m/s, s.
_USUAL_CORRELATED_MPS: Final = 0.08
_USUAL_CORRELATION_S: Final = 1.5
#: No recorded speed is trusted better than this, m/s.
_LEAST_WHITE_MPS: Final = 0.01
#: Third differences tell noise from motion only at this interval or below, s; so many are needed.
_FAST_S: Final = 0.21
_LEAST_DIFFERENCES: Final = 30
#: White noise where nothing shows it, m/s.
_USUAL_WHITE_MPS: Final = 0.05
_MOVING_MPS: Final = 3.0
#: Roughness that is tried: variance of acceleration gathered per second, m^2/s^5. The usual one counts beforehand.
_ROUGHNESS: Final = (0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0)
_USUAL_ROUGHNESS: Final = 8.0
#: The usual one of a launch: the thrust of a slipping clutch is even.
USUAL_LAUNCH_ROUGHNESS: Final = 1.0
#: Jitter of a sample's time, share of the interval, and its bounds, s (our assumption).
_JITTER_SHARE: Final = 0.05
_LEAST_JITTER_S: Final = 0.005
_MOST_JITTER_S: Final = 0.02
_ROUGHNESS_LOG_SD: Final = 1.0
#: Windows that are looked at for it.
_MOST_WINDOWS: Final = 12


@dataclass(frozen=True)
class SpeedNoise:
    """Error of the recorded speeds, and roughness of the true course between them.

    Attributes
    ----------
    white_mps : float
        Standard deviation of the part that is new with every sample.
    correlated_mps, correlation_s : float
        Standard deviation and correlation time of the part that hangs together.
    roughness, launch_roughness : float
        Variance that the acceleration gathers in a second, m^2/s^5: on the way, and in the first second of a start.
    jitter_s : float
        Standard deviation of a sample's time: what jitters of the receiver's delay. What is constant of it moves start
        and end alike and cancels.
    """

    white_mps: float
    correlated_mps: float
    correlation_s: float
    roughness: float = _USUAL_ROUGHNESS
    launch_roughness: float = USUAL_LAUNCH_ROUGHNESS
    jitter_s: float = 0.0

    def covariance(self, time_s: FloatArray, speed_mps: FloatArray, speed_sd_mps: FloatArray) -> FloatArray:
        """Covariance (n, n) of the errors of at least two samples with further standard errors `speed_sd_mps`."""
        apart = np.abs(time_s[:, None] - time_s[None, :])
        hanging = self.correlated_mps**2 * np.exp(-apart / self.correlation_s)
        jitter = self.jitter_s * np.gradient(speed_mps, time_s)
        return np.asarray(hanging + np.diag(self.white_mps**2 + speed_sd_mps**2 + jitter**2))


def noise_in(trace: Trace, shown: tuple[float, float, float] | None) -> SpeedNoise:
    """Find the noise of a trace, roughness aside.

    Parameters
    ----------
    trace : Trace
        The speeds.
    shown : (white, correlated, correlation time) or None
        What the samples in gear show of it, in m/s and s; None where there are no gears.

    Notes
    -----
    Third differences of moving samples, in which steady acceleration cancels, show the white part as well, at 5 Hz and
    above; the smaller of the two counts, as samples in gear scatter for other reasons too. What is known of the error
    of reading is taken off: it counts by sample. Where gears show nothing, the correlated part is assumed; a speed from
    the wheel has none.
    """
    jitter_s = float(np.clip(_JITTER_SHARE * trace.interval_s, _LEAST_JITTER_S, _MOST_JITTER_S))
    white, correlated, time = shown or (
        np.inf,
        0.0 if trace.source in ("wheel or logger", "machine") else _USUAL_CORRELATED_MPS,
        _USUAL_CORRELATION_S,
    )
    moving = (trace.speed_mps > _MOVING_MPS) & ~trace.broken
    white = min(white, scatter_shown(trace.time_s, trace.speed_mps, moving))
    if np.isfinite(white):
        read = float(np.median(trace.speed_sd_mps)) if trace.time_s.size else 0.0
        white = max(white**2 - read**2, 0.0) ** 0.5
    else:
        white = _USUAL_WHITE_MPS
    return SpeedNoise(max(white, _LEAST_WHITE_MPS), correlated, time, jitter_s=jitter_s)


def scatter_shown(time_s: FloatArray, values: FloatArray, usable: BoolArray) -> float:
    """White noise of evenly timed values as their third differences show it; infinite where they cannot.

    Parameters
    ----------
    time_s, values : (n,) float
        Times ascending.
    usable : (n,) bool
        A difference counts where its last three values are usable.

    Notes
    -----
    The median of the absolute differences over 0.6745, that of the normal law; their variance is 1 + 9 + 9 + 1 times
    that of white noise.
    """
    apart = np.diff(time_s)
    if time_s.size < _LEAST_DIFFERENCES or np.median(apart) > _FAST_S:
        return float(np.inf)
    even = np.concatenate([[False], apart < 1.5 * np.median(apart)]) & usable
    third = np.diff(values, 3)[even[3:] & even[2:-1] & even[1:-2]]
    return 1.4826 * float(np.median(np.abs(third))) / 20**0.5 if third.size >= _LEAST_DIFFERENCES else float(np.inf)


def with_roughness(trace: Trace, noise: SpeedNoise, windows: Sequence[tuple[int, int]]) -> SpeedNoise:
    """Find the roughness that explains the speeds within windows (first, last sample) best.

    The restricted likelihoods of the windows are added up over a grid; a normal distribution of its logarithm about the
    usual value counts beforehand, so that a few windows cannot move it far.
    """
    scores = believed(_ROUGHNESS, _USUAL_ROUGHNESS)
    for first, last in list(windows)[:_MOST_WINDOWS]:
        part = slice(first, last + 1)
        time_s, speed_mps = trace.time_s[part], trace.speed_mps[part]
        error = noise.covariance(time_s, speed_mps, trace.speed_sd_mps[part])
        scores += [log_likelihood(time_s, speed_mps, error, q) for q in _ROUGHNESS]
    return replace(noise, roughness=_ROUGHNESS[int(np.argmax(scores))])


def believed(roughness: Sequence[float], usual: float) -> FloatArray:
    """Return what counts beforehand for each roughness: the log of a normal density of its logarithm."""
    return np.asarray(-0.5 * (np.log(np.array(roughness) / usual) / _ROUGHNESS_LOG_SD) ** 2)
