"""What is a run and what is not."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.errors import InputError
from gearfit.timed.asked import USUAL_SPANS, Span, each_once, read_span
from gearfit.timed.find import FoundRuns, runs_in
from gearfit.timed.noise import SpeedNoise
from gearfit.timed.trace import Trace, make_trace
from tests.spans.traces import FloatArray

NOISE = SpeedNoise(0.03, 0.05, 1.5)
SPAN = Span(0.0, 20.0)
RUN = [(3.0, 0.0), (8.0, 25.0), (10.0, 25.0), (16.0, 0.0), (20.0, 0.0)]


def course(*points: tuple[float, float], rate_hz: float = 10.0) -> tuple[FloatArray, FloatArray]:
    """Times and speeds of straight lines between points, from rest at 0 s."""
    at = np.array([(0.0, 0.0), *points])
    time_s = np.arange(round(at[-1, 0] * rate_hz) + 1) / rate_hz
    return time_s, np.interp(time_s, at[:, 0], at[:, 1])


def found(trace: Trace, span: Span = SPAN) -> FoundRuns:
    return runs_in([trace], [NOISE], [span])


def twice(second: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return RUN + [(time + 20.0, speed) for time, speed in second]


@pytest.mark.parametrize("rate_hz", [1.0, 5.0, 10.0, 25.0])
def test_a_start_is_found_at_every_rate(rate_hz: float) -> None:
    (run,) = found(make_trace(*course(*RUN, rate_hz=rate_hz))).timed
    assert run.how == "standing start"
    assert run.time_s.contains(4.0)
    assert run.time_s.value == pytest.approx(4.0, abs=0.1 if rate_hz > 1 else 0.25)


def test_a_jump_after_a_dropout_is_no_run() -> None:
    """Two real tracks jump from 0 to 50 km/h within one second after a dropout."""
    time_s = np.arange(60.0)
    jumped = np.where(time_s < 30, 0.0, 14.0)
    assert found(make_trace(time_s, jumped), Span(0.0, 13.0)).timed == ()
    (left,) = found(make_trace(time_s, jumped), Span(0.0, 13.0)).left_out
    assert left.reason == "interrupted: no sample for 1.0 s, in which the speed changed by 50 km/h"


def test_reasons() -> None:
    cases = {
        "part throttle": [(3.0, 0.0), (11.0, 22.0), (16.0, 0.0), (20.0, 0.0)],
        "aborted at 58 km/h": [(3.0, 0.0), (6.2, 16.0), (16.0, 0.0), (20.0, 0.0)],
        "interrupted: the speed fell": [(3.0, 0.0), (5.0, 10.0), (6.0, 7.0), (9.6, 25.0), (16.0, 0.0), (20.0, 0.0)],
    }
    for reason, second in cases.items():
        both = found(make_trace(*course(*twice(second))))
        assert len(both.timed) == 1, reason
        assert [left.reason[: len(reason)] for left in both.left_out] == [reason]


def test_a_dropout_within_a_run() -> None:
    time_s, speed = course(*RUN)
    kept = (time_s < 4.5) | (time_s > 6.4)
    (left,) = found(make_trace(time_s[kept], speed[kept])).left_out
    assert left.reason == "interrupted: no sample for 2.1 s, in which the speed changed by 38 km/h"
    assert left.speed_mps == pytest.approx(38 / 3.6, abs=0.15)


def test_a_start_right_after_a_gap_in_which_the_machine_came_to_rest() -> None:
    """Two samples at rest are enough where the ones before are missing; one is not."""
    time_s, speed = course((1.0, 20.0), (4.0, 0.0), *[(t + 2.0, v) for t, v in RUN])
    for first_s, runs in ((4.75, 1), (5.05, 0)):
        kept = (time_s < 2.0) | (time_s > first_s)
        assert len(found(make_trace(time_s[kept], speed[kept])).timed) == runs


def test_at_1_hz_gears_are_compared_away_from_shifts() -> None:
    """A start with a shift in it, beside a roll-on that has none, is no part throttle."""
    start = [(3.0, 0.0), (5.0, 10.0), (5.5, 10.0), (8.5, 22.0), (12.0, 0.0), (15.0, 0.0)]
    roll_on = [(25.0, 5.0), (28.0, 5.0), (33.0, 25.0), (40.0, 0.0), (45.0, 0.0)]
    time_s, speed = course(*start, *roll_on, rate_hz=1.0)
    gear = np.where(speed < 1, 0, np.where((time_s < 5.5) | (time_s > 12), 1, 2))
    both = found(make_trace(time_s, speed, gear=gear))
    assert [run.how for run in both.timed] == ["standing start"]


def test_slopes() -> None:
    time_s, speed = course((20.0, 0.0), *[(t + 20, v) for t, v in RUN])
    way = np.cumsum(speed) / 10.0
    for percent, reason in ((3.0, "uphill: 3."), (-4.0, "downhill: 4.")):
        uneven = make_trace(time_s, speed, elevation_m=50 + percent / 100 * way)
        assert [left.reason[:-3] for left in found(uneven).left_out] == [reason]
    (run,) = found(make_trace(time_s, speed, elevation_m=50 + 0.01 * way)).timed
    assert run.grade_percent is not None
    assert run.grade_percent.value == pytest.approx(1.0, abs=0.05)


def test_an_elevation_that_wanders_excludes_nobody() -> None:
    time_s, speed = course(*RUN)
    wandering = 50 + 3 * np.sin(time_s / 4)
    assert len(found(make_trace(time_s, speed, elevation_m=wandering)).timed) == 1


def test_doubled_seconds_and_jitter_at_rest() -> None:
    time_s, speed = course((10.0, 0.0), *[(t + 7, v) for t, v in RUN])
    rng = np.random.default_rng(4)
    shaking = np.where(speed == 0, np.abs(0.15 * rng.standard_normal(speed.size)), speed)
    doubled = np.sort(np.append(np.arange(time_s.size), [25, 105, 105, 118]))
    trace = make_trace(time_s[doubled], shaking[doubled])
    assert trace.repeated == 4
    (run,) = found(trace).timed
    assert run.time_s.value == pytest.approx(4.0, abs=0.1)


def test_a_roll_on_and_what_comes_with_a_start() -> None:
    time_s, speed = course((3.0, 0.0), (9.0, 18.0), (20.0, 15.0), (27.0, 29.0), (35.0, 0.0), (40.0, 0.0))
    (run,) = found(make_trace(time_s, speed), Span(60 / 3.6, 100 / 3.6)).timed
    assert (run.how, run.rollout_time_s) == ("roll-on", None)
    assert run.time_s.value == pytest.approx(40 / 3.6 / 2.0, abs=0.05)
    (through,) = found(make_trace(*course(*RUN)), Span(10.0, 20.0)).timed
    assert through.how == "through the gears"


# 60 mph is 96.56 km/h.
def test_spans_nearly_alike_are_one() -> None:
    asked = [read_span(text) for text in ("0-60mph", "0-60mph", "0-96.6kmh", "0-96.9kmh")]
    assert each_once(asked) == (asked[0], asked[3])
    assert each_once(USUAL_SPANS) == USUAL_SPANS


def test_spans_as_people_write_them() -> None:
    assert read_span("0-80kmh") == Span(0.0, 80 / 3.6)
    assert read_span(" 30 - 60mph ").to_mps == pytest.approx(60 * 0.44704)
    for text in ("0-80KMH", "0 - 80 km/h", "0\N{EN DASH}80 Km/H", " 0.0 \N{EN DASH} 80.0kmh"):
        assert read_span(text) == Span(0.0, 80 / 3.6)
    assert read_span("30\N{EN DASH}60 MPH") == read_span("30-60mph")
    for text in ("0-80", "-5-80kmh", "0-80kph", "0--80kmh"):
        with pytest.raises(InputError) as caught:
            read_span(text)
        assert str(caught.value) == (
            f'--span: found "{text}"; allowed is FROM-TO with kmh or mph, from 0 up. Write it as 0-80kmh or 30-60mph.'
        )
    with pytest.raises(InputError) as caught:
        read_span("80-60kmh")
    assert str(caught.value) == (
        '--span: found "80-60kmh"; allowed are spans at least 8 km/h (5 mph) wide and below 540 km/h. Give the lower '
        "speed first and the target second."
    )
