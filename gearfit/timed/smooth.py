"""The true speed between and behind noisy samples: a smoothing spline with the error of every point.

The acceleration is taken for a Wiener process that gathers variance q a second, on top of an unknown straight line of
speed. The mean of the speed given the samples is then the cubic smoothing spline, and its variance holds both the noise
of the samples and what may have happened between them (G. Wahba, Journal of the Royal Statistical Society B 40, 364
(1978); from memory). With s <= t from the start of the window,

    cov( v(s), v(t) ) = q s^2 (3 t - s) / 6
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

FloatArray = NDArray[np.float64]


def wiener(early: FloatArray, late: FloatArray) -> FloatArray:
    """Covariance of speeds at two times since the start of the window, for q = 1; arrays broadcast."""
    low, high = np.minimum(early, late), np.maximum(early, late)
    return np.asarray(low * low * (3 * high - low) / 6)


@dataclass(frozen=True, eq=False)
class Smooth:
    """Speeds at moments: mean, rate of change and standard error, each (n,)."""

    speed_mps: FloatArray
    acceleration_mps2: FloatArray
    se_mps: FloatArray


class Spline:
    """The smoothing spline through samples.

    Parameters
    ----------
    time_s, speed_mps : (n,) float
        At least three samples, times ascending.
    error : (n, n) float
        Covariance of the samples' errors.
    roughness : float
        q, m^2/s^5.
    """

    def __init__(self, time_s: FloatArray, speed_mps: FloatArray, error: FloatArray, roughness: float) -> None:
        self._origin_s = float(time_s[0])
        self._t = time_s - self._origin_s
        self._q = roughness
        self._line = np.column_stack([np.ones_like(self._t), self._t])
        signal = roughness * wiener(self._t[:, None], self._t[None, :])
        tiny = 1e-14 * (1 + float(np.max(np.diag(signal))))
        self._factor = cho_factor(signal + error + tiny * np.eye(time_s.size), lower=True, check_finite=False)
        self._s_line = cho_solve(self._factor, self._line, check_finite=False)
        self.information = self._line.T @ self._s_line
        s_speed = cho_solve(self._factor, speed_mps, check_finite=False)
        self._coefficients = np.linalg.solve(self.information, self._line.T @ s_speed)
        self._weights = s_speed - self._s_line @ self._coefficients
        self.misfit = float(speed_mps @ self._weights)
        self.log_determinant = 2 * float(np.sum(np.log(np.diag(self._factor[0]))))

    def speed_at(self, at_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Mean speed and its rate of change at moments (m,)."""
        t = at_s - self._origin_s
        s = self._t[None, :]
        early = np.minimum(t[:, None], s)
        slope = np.where(t[:, None] <= s, t[:, None] * s - 0.5 * t[:, None] ** 2, 0.5 * s * s)
        speed = self._coefficients[0] + self._coefficients[1] * t
        speed = speed + self._q * (early**2 * (3 * np.maximum(t[:, None], s) - early) / 6) @ self._weights
        return speed, self._coefficients[1] + self._q * slope @ self._weights

    def at(self, at_s: FloatArray) -> Smooth:
        """Mean speed, rate of change and standard error at moments (m,)."""
        speed, rate = self.speed_at(at_s)
        t = at_s - self._origin_s
        cross = self._q * wiener(t[:, None], self._t[None, :])
        solved = cho_solve(self._factor, cross.T, check_finite=False)
        open_line = np.column_stack([np.ones_like(t), t]) - cross @ self._s_line
        variance = self._q * wiener(t, t) - np.einsum("ij,ji->i", cross, solved)
        variance += np.einsum("ij,jk,ik->i", open_line, np.linalg.inv(self.information), open_line)
        return Smooth(speed, rate, np.sqrt(np.maximum(variance, 0.0)))

    def response(self, at_s: float, columns: FloatArray) -> FloatArray:
        """By how much the mean speed at a moment moves (p,) with errors of the samples, columns (n, p)."""
        t = at_s - self._origin_s
        cross = self._q * wiener(np.array([[t]]), self._t[None, :])
        line = np.array([1.0, t]) - (cross @ self._s_line)[0]
        s_columns = cho_solve(self._factor, columns, check_finite=False)
        fitted = np.linalg.solve(self.information, self._line.T @ s_columns)
        return np.asarray(line @ fitted + (cross @ s_columns)[0])

    def crossing(
        self, target_mps: float, low_s: float, high_s: float, *, last: bool = False
    ) -> tuple[float, float, float] | None:
        """Find when the mean speed first (or `last`) rises through a target between two moments.

        Returns
        -------
        (moment, standard error of the moment, acceleration) or None
            None where it does not rise through it there.
        """
        grid = np.linspace(low_s, high_s, 33)
        above = self.speed_at(grid)[0] >= target_mps
        rises = np.flatnonzero(~above[:-1] & above[1:])
        if rises.size == 0:
            return None
        k = int(rises[-1 if last else 0])
        low, high = float(grid[k]), float(grid[k + 1])
        moment = 0.5 * (low + high)
        for _ in range(60):
            speed, rate = (float(part[0]) for part in self.speed_at(np.array([moment])))
            if speed >= target_mps:
                high = moment
            else:
                low = moment
            step = moment - (speed - target_mps) / rate if rate > 0 else low
            moved = step if low < step < high else 0.5 * (low + high)
            if abs(moved - moment) < 1e-10:
                break
            moment = moved
        here = self.at(np.array([moment]))
        rate = float(here.acceleration_mps2[0])
        if rate <= 0:
            return None
        se_s = max(float(here.se_mps[0]) / rate, self._half_range_s(target_mps, grid, last))
        return moment, se_s, rate

    def _half_range_s(self, target_mps: float, grid: FloatArray, last: bool) -> float:
        """Half the time between the crossings of one standard error above and below: a dip in a shift may lie there."""
        there = self.at(grid)
        moments = []
        for sign in (1.0, -1.0):
            above = there.speed_mps + sign * there.se_mps >= target_mps
            rises = np.flatnonzero(~above[:-1] & above[1:])
            if rises.size == 0:
                return 0.0
            k = int(rises[-1 if last else 0])
            edge = there.speed_mps[k : k + 2] + sign * there.se_mps[k : k + 2]
            moments.append(float(np.interp(target_mps, edge, grid[k : k + 2])))
        return 0.5 * abs(moments[1] - moments[0])


def log_likelihood(time_s: FloatArray, speed_mps: FloatArray, error: FloatArray, roughness: float) -> float:
    """Restricted log likelihood of samples (the straight line integrated out), a constant aside."""
    spline = Spline(time_s, speed_mps, error, roughness)
    return -0.5 * (spline.misfit + spline.log_determinant + float(np.linalg.slogdet(spline.information)[1]))
