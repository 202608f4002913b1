"""Engine speed in a known gear beside a receiver's speeds: what it adds, what it must not touch, what cancels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.fitting.pairing.observed import observe
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.ratios.correlated import Noise
from gearfit.fitting.ratios.drive import Drive
from gearfit.fitting.ratios.timed_fit import StreamFit
from gearfit.records.results import TimedSpan
from gearfit.timed.asked import Span
from gearfit.timed.engine import EngineSpeeds, engine_speeds
from gearfit.timed.find import runs_in
from gearfit.timed.noise import SpeedNoise
from gearfit.timed.trace import Trace, make_trace

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


def drive(lag_se_s: float = 0.001, level_se: float = 1e-4) -> Drive:
    """Return a drive without slip, whose levels stand for the speeds at 20 m/s."""
    covariance = np.diag([level_se**2, level_se**2, lag_se_s**2, 0.0])
    return Drive(np.array([1, 2]), np.log(np.array(RATIOS)), 0.0, np.array([400.0, 400.0]), covariance)


def engine(over: float = 0.0, by: Drive | None = None) -> EngineSpeeds | None:
    true = course(TIME_S)
    at = TIME_S - LAG_S
    ratio = np.array([1000.0, *RATIOS])[gears(course(TIME_S))]
    rpm = np.maximum(true * ratio, 1.0) * (1 + over)
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
        drive=by or drive(),
    )
    return engine_speeds(found, trace())


def timed(span: Span, beside: EngineSpeeds | None, off_mps: float = 0.0) -> TimedSpan:
    (run,) = runs_in([trace(off_mps)], [NOISE], [span], engines=[beside], keep_roughness=True).timed
    return run


def test_speeds_by_engine_speed_lie_on_the_clock_of_the_receiver() -> None:
    found = engine()
    assert found is not None
    assert set(found.gear.tolist()) == {1, 2}
    speed, _ = replace(found.drive, square_speed=np.zeros(2)).speeds(found.engine_rpm, found.gear, 0.0)
    assert speed == pytest.approx(course(found.time_s) * np.exp(0.001 * (course(found.time_s) * 3.6 / 100) ** 2))


def test_a_clutch_that_slips_is_no_road_speed() -> None:
    """Engine speeds 10 % above every gear belong to none, but where that is within 2 % and the noise of 0.3 m/s."""
    found = engine(over=0.1)
    assert found is not None
    assert found.drive.speeds(found.engine_rpm, found.gear, 0.0)[0].max() < 1.1 * 0.3 / (0.1 - 1.1 * 0.02)


def test_noise_that_hangs_together_moves_the_end_less_with_the_engine_speed() -> None:
    """0.15 m/s too much in motion is 0.05 s at 3 m/s^2; the engine speed takes more than half of it away."""
    span, truth_s = Span(0.0, 25.0), BEGIN_S + 25.0 / PULL
    alone, helped = timed(span, None, 0.15), timed(span, engine(), 0.15)
    off_s = [(run.start_s or 0.0) + run.time_s.value - truth_s for run in (alone, helped)]
    assert off_s[0] == pytest.approx(-0.05, abs=0.005)
    assert abs(off_s[1]) < 0.02
    assert np.hypot(helped.errors_s["end"], helped.errors_s["common"]) < 0.6 * alone.errors_s["end"]


def test_an_uncertain_lag_counts() -> None:
    """What is left is the shape of the course, which the lag does not touch."""
    errors = []
    for lag_se_s in (0.001, 0.02, 10.0):
        run = timed(Span(0.0, 25.0), engine(by=drive(lag_se_s)))
        errors.append(float(np.hypot(run.errors_s["end"], run.errors_s["common"])))
    alone = timed(Span(0.0, 25.0), None).errors_s["end"]
    assert errors[0] < 0.9 * errors[1] < 0.81 * errors[2]
    assert 0.5 * alone < errors[2] <= alone


def test_what_is_wrong_at_both_ends_cancels_in_a_roll_on() -> None:
    """A lag that is wrong moves both crossings alike; a level that is wrong moves the later, at more speed, by more."""
    span = Span(19.0, 25.0)
    apart = timed(span, engine(by=drive(lag_se_s=0.02, level_se=1e-6)))
    assert apart.errors_s["common"] < 0.003
    tied = timed(span, engine(by=drive(lag_se_s=1e-6, level_se=0.002)))
    assert tied.errors_s["common"] == pytest.approx(0.002 * 6.0 / PULL, rel=0.35)
    assert timed(Span(0.0, 25.0), engine(by=drive(lag_se_s=0.02, level_se=1e-6))).errors_s["common"] > 0.008


def test_without_engine_speed_nothing_is_common() -> None:
    run = timed(Span(0.0, 25.0), None)
    assert run.errors_s["common"] == 0.0
    assert run.time_s.se == pytest.approx(np.hypot(run.errors_s["start"], run.errors_s["end"]))
