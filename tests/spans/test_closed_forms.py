"""Times against closed forms: even thrust t = v m / F, even power t = m (v2^2 - v1^2) / 2 P, drag's tanh law."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.timed.asked import Span
from gearfit.timed.find import runs_in
from gearfit.timed.start import ROLLOUT_M
from tests.spans.traces import EVEN, EXACT, FloatArray, start_and_stop, trace_of

MASS_KG = 250.0


@pytest.mark.parametrize("rate_hz", [10.0, 25.0])
@pytest.mark.parametrize("start_s", [5.0, 5.03, 5.0777])
def test_constant_thrust(rate_hz: float, start_s: float) -> None:
    """t = v m / F, the start between samples included."""
    force_n, target = 1150.0, 27.777
    trace = trace_of(start_and_stop(start_s, force_n / MASS_KG, 60.0), rate_hz, 15.0)
    (run,) = runs_in([trace], [EVEN], [Span(0.0, target)], keep_roughness=True).timed
    assert run.time_s.value == pytest.approx(target * MASS_KG / force_n, abs=1e-6)
    assert run.start_s == pytest.approx(start_s, abs=1e-6)


def test_constant_power_roll_on() -> None:
    """t = m (v2^2 - v1^2) / 2 P for v = sqrt(v0^2 + 2 P t / m)."""
    power_w, low, high = 30_000.0, 60 / 3.6, 100 / 3.6

    def speed(t: FloatArray) -> FloatArray:
        return np.asarray(np.sqrt(14.0**2 + 2 * power_w * t / MASS_KG))

    (run,) = runs_in([trace_of(speed, 100.0, 6.0)], [EXACT], [Span(low, high)], keep_roughness=True).timed
    assert run.time_s.value == pytest.approx(MASS_KG * (high**2 - low**2) / (2 * power_w), abs=1e-6)


def test_drag_of_the_square_of_speed() -> None:
    """v = V tanh(F t / m V), V = sqrt(F / k): t = (m V / F) atanh(v / V)."""
    force_n, terminal = 900.0, 45.0
    scale = MASS_KG * terminal / force_n

    def speed(t: FloatArray) -> FloatArray:
        return np.asarray(terminal * np.tanh(np.maximum(t - 4.02, 0) / scale))

    low, high = 12.0, 30.0
    found = runs_in([trace_of(speed, 100.0, 20.0)], [EXACT], [Span(0.0, high), Span(low, high)], keep_roughness=True)
    start, roll = found.timed
    # The start itself is known to the sampling only: a launch that bends within 10 ms looks alike.
    assert roll.time_s.value == pytest.approx(
        scale * (np.arctanh(high / terminal) - np.arctanh(low / terminal)), abs=1e-6
    )
    assert start.time_s.value == pytest.approx(scale * np.arctanh(high / terminal), abs=1e-3)


def test_one_foot_rollout() -> None:
    """The first 0.3048 m (SAE J1491) from rest at an even 5 m/s^2 take sqrt(2 x 0.3048 / 5) = 0.349 s."""
    trace = trace_of(start_and_stop(5.04, 5.0, 60.0), 10.0, 15.0)
    (run,) = runs_in([trace], [EVEN], [Span(0.0, 25.0)], keep_roughness=True).timed
    assert ROLLOUT_M == 0.3048
    assert run.rollout_time_s is not None
    assert run.time_s.value - run.rollout_time_s.value == pytest.approx((2 * 0.3048 / 5) ** 0.5, abs=1e-5)
