"""The imperfections of the instruments that record a ride."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.simulator.noise import correlated_noise, in_steps
from tests.simulator.ride import TrueRide
from tests.simulator.road import Floats


@dataclass(frozen=True)
class SpeedChannel:
    """A satellite receiver's speed, or a logger's speed from the wheel.

    Attributes
    ----------
    rate_hz : float
        New values a second.
    latency_s : float
        By how much a value is older than the time written beside it.
    latency_sd_s : float
        How much that varies from value to value.
    white_sd_mps, correlated_sd_mps, correlation_s : float
        Standard deviation of the white part of the noise, of the correlated part, and correlation time of that.
    scale_error : float
        Relative error common to all values (0.02: shows 2 % too much).
    step_mps : float
        Resolution of the values; 0 for none.
    floored : bool
        Cut off downwards to that resolution rather than rounded.
    dropouts_per_minute, dropout_s : float
        How often reception fails, and for how long on average.
    """

    rate_hz: float = 10.0
    latency_s: float = 0.2
    white_sd_mps: float = 0.04
    correlated_sd_mps: float = 0.08
    correlation_s: float = 1.5
    scale_error: float = 0.0
    step_mps: float = 0.01
    floored: bool = False
    dropouts_per_minute: float = 0.0
    dropout_s: float = 5.0
    latency_sd_s: float = 0.0

    def read(self, ride: TrueRide, time_s: Floats, rng: np.random.Generator) -> Floats:
        """Values written at evenly spaced times, shape (n,); never below 0."""
        late_s = self.latency_s + (self.latency_sd_s * rng.standard_normal(time_s.size) if self.latency_sd_s else 0.0)
        true_mps = np.interp(time_s - late_s, ride.time_s, ride.speed_mps)
        noise_mps = self.white_sd_mps * rng.standard_normal(time_s.size)
        noise_mps += correlated_noise(rng, time_s.size, 1.0 / self.rate_hz, self.correlated_sd_mps, self.correlation_s)
        shown = np.maximum(0.0, (1.0 + self.scale_error) * true_mps + noise_mps)
        return in_steps(shown, self.step_mps, self.floored)

    def received(self, time_s: Floats, rng: np.random.Generator) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Tell for each of the times, shape (n,), whether there was reception."""
        present = np.ones(time_s.size, dtype=bool)
        if self.dropouts_per_minute == 0.0 or time_s.size == 0:
            return present
        now = float(time_s[0])
        while now < time_s[-1]:
            now += float(rng.exponential(60.0 / self.dropouts_per_minute))
            length_s = float(rng.exponential(self.dropout_s))
            present &= (time_s < now) | (time_s >= now + length_s)
            now += length_s
        return present


@dataclass(frozen=True)
class RpmChannel:
    """An engine-speed signal as recorded.

    Attributes
    ----------
    rate_hz : float
        New values a second.
    lag_s : float
        By how much a value is older than the time written beside it.
    noise_sd_rpm : float
        Standard deviation of white noise.
    scale_error : float
        Relative error common to all values (0.02: shows 2 % too much).
    step_rpm : float
        Resolution of the values; 0 for none.
    floored : bool
        Cut off downwards to that resolution rather than rounded.
    """

    rate_hz: float = 10.0
    lag_s: float = 0.05
    noise_sd_rpm: float = 10.0
    scale_error: float = 0.0
    step_rpm: float = 1.0
    floored: bool = False

    def read(self, ride: TrueRide, time_s: Floats, rng: np.random.Generator) -> Floats:
        """Values written at times, shape (n,); never below 0."""
        true_rpm = np.interp(time_s - self.lag_s, ride.time_s, ride.engine_rpm)
        shown = (1.0 + self.scale_error) * true_rpm + self.noise_sd_rpm * rng.standard_normal(time_s.size)
        return in_steps(np.maximum(0.0, shown), self.step_rpm, self.floored)
