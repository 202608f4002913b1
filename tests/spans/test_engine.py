"""Engine speed in a known gear beside a receiver's speeds: what it adds, and what it must not touch."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.fitting.correlated import Noise
from gearfit.fitting.levels import Levels
from gearfit.fitting.observed import observe
from gearfit.fitting.stream import Stream
from gearfit.fitting.timed import StreamFit
from gearfit.spans.asked import Span
from gearfit.spans.engine import EngineSpeeds, engine_speeds
from gearfit.spans.find import runs_in
from gearfit.spans.noise import SpeedNoise
from gearfit.spans.trace import Trace, make_trace

#: rev/min at 1 m/s in gears 1 and 2; even acceleration, m/s^2, from 5 s on; lag of the speeds, s.
RATIOS = (400.0, 250.0)
PULL, BEGIN_S, LAG_S = 3.0, 5.0, 0.15
TIME_S = np.arange(200) / 10
NOISE = SpeedNoise(0.03, 0.08, 1.5, roughness=0.5)


def course(time_s: np.ndarray) -> np.ndarray:
    return np.clip(PULL * (time_s - BEGIN_S), 0.0, 36.0)


def gears(speed_mps: np.ndarray) -> np.ndarray:
    return np.where(speed_mps < 1.0, 0, np.where(speed_mps < 18.0, 1, 2))


def trace(off_mps: float = 0.0) -> Trace:
    """Return a trace whose speeds are off by the same in motion, as by noise that hangs together."""
    true = course(TIME_S)
    return make_trace(TIME_S, np.where(true > 0, true + off_mps, 0.0), gear=gears(true))


def engine(slip: float = 0.0) -> EngineSpeeds | None:
    true = course(TIME_S)
    at = TIME_S - LAG_S
    ratio = np.array([1000.0, *RATIOS])[gears(course(TIME_S))]
    rpm = np.maximum(true * ratio, 1.0) * (1 + slip)
    nothing = np.zeros(TIME_S.size)
    stream = Stream("log", np.arange(TIME_S.size), TIME_S, true, nothing, at, rpm, nothing + 1.0, 0.0, 0.0)
    found = StreamFit(
        stream,
        lag_s=LAG_S,
        lag_se_s=0.001,
        lag_known=True,
        offset_mps=0.0,
        offset_se_mps=0.0,
        noise=Noise(0.03, 0.08, 1.5, 0.001),
        observed=observe(stream, LAG_S, 0.0),
        path=np.zeros(0, dtype=np.int64),
    )
    two = np.array([1, 2])
    levels = Levels(two, np.log(np.array(RATIOS)), 1e-8 * np.eye(2), 50.0, 100 * two, 5 * two)
    return engine_speeds(found, levels, trace())


def test_speeds_by_engine_speed_lie_on_the_clock_of_the_receiver() -> None:
    found = engine()
    assert found is not None
    assert found.speed_mps == pytest.approx(course(found.time_s), abs=1e-9)
    assert set(found.gear.tolist()) == {1, 2}


def test_a_clutch_that_slips_is_no_road_speed() -> None:
    """Engine speeds 10 % above every gear belong to none, but where that is within 2 % and the noise of 0.3 m/s."""
    found = engine(slip=0.1)
    assert found is not None
    assert found.speed_mps.max() < 1.1 * 0.3 / (0.1 - 1.1 * 0.02)


def test_slip_of_the_drive_is_taken_off() -> None:
    """At 3 m/s^2 and 20 m/s: thrust per mass 3 + 0.05 + 0.00138 x 400 = 3.60 m/s^2, slip 0.0005 of it, 0.036 m/s."""
    found = engine()
    assert found is not None
    time_s, speed, error = found.near(BEGIN_S + 6.75, 0.75)
    middle = int(np.argmin(np.abs(course(time_s) - 20.0)))
    assert course(time_s)[middle] - speed[middle] == pytest.approx(0.0005 * 3.602 * 20.0, abs=1e-3)
    assert error.shape == (time_s.size, time_s.size)


def test_noise_that_hangs_together_moves_the_end_less_with_the_engine_speed() -> None:
    """0.15 m/s too much in motion is 0.05 s at 3 m/s^2; the engine speed takes more than half of it away."""
    span = Span(0.0, 25.0)
    truth_s = BEGIN_S + 25.0 / PULL
    ends = []
    for beside in (None, engine()):
        (run,) = runs_in([trace(0.15)], [NOISE], [span], engines=[beside], keep_roughness=True).timed
        assert run.start_s is not None
        ends.append((run.start_s + run.time_s.value - truth_s, run.errors_s["end"]))
    assert ends[0][0] == pytest.approx(-0.05, abs=0.005)
    assert abs(ends[1][0]) < 0.02
    assert ends[1][1] < 0.6 * ends[0][1]


def test_an_uncertain_lag_counts() -> None:
    """What is left is the shape of the course, which the lag does not touch."""
    found = engine()
    assert found is not None
    errors = []
    for lag_se_s in (0.001, 0.02, 10.0):
        beside = replace(found, lag_se_s=lag_se_s)
        (run,) = runs_in([trace()], [NOISE], [Span(0.0, 25.0)], engines=[beside], keep_roughness=True).timed
        errors.append(run.errors_s["end"])
    (alone,) = runs_in([trace()], [NOISE], [Span(0.0, 25.0)], keep_roughness=True).timed
    assert errors[0] < 0.9 * errors[1] < 0.81 * errors[2]
    assert 0.5 * alone.errors_s["end"] < errors[2] <= alone.errors_s["end"]
