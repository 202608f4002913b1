"""Runs of several recorders, and how each was ridden."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.timed.asked import Span
from gearfit.timed.find import runs_in
from gearfit.timed.noise import SpeedNoise
from gearfit.timed.trace import FloatArray, Trace, make_trace
from tests.spans.traces import start_and_stop

NOISE = SpeedNoise(0.03, 0.05, 1.5)
SPAN = Span(0.0, 20.0)
TIME_S = np.arange(0, 20, 0.1)


def recorder(file: str, begun_s: float, clock: str = "", noise_mps: float = 0.0) -> Trace:
    """Return a start 5 s after time 0 of some clock, by a recorder that was switched on at `begun_s` of it."""
    speed = start_and_stop(5.0 - begun_s, 3.0, 25.0)(TIME_S)
    scatter = noise_mps * np.random.default_rng(1).standard_normal(TIME_S.size)
    return make_trace(
        TIME_S, np.where(speed > 0, np.abs(speed + scatter), 0.0), file=file, clock=clock, start_s=begun_s
    )


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_two_recorders_of_one_run_are_one_run(order: tuple[int, int]) -> None:
    both = recorder("good", 0.0, "utc"), recorder("poor", -3.0, "utc", 0.3)
    noises = NOISE, SpeedNoise(0.3, 0.05, 1.5)
    found = runs_in([both[i] for i in order], [noises[i] for i in order], [SPAN])
    assert [run.source for run in found.timed] == ["good"]


def test_recorders_whose_clocks_are_not_known_are_apart() -> None:
    """Two files that each begin at 0 s may be two rides."""
    found = runs_in([recorder("one", 0.0), recorder("two", 0.0)], [NOISE, NOISE], [SPAN])
    assert [run.source for run in found.timed] == ["one", "two"]


def ridden(at_s: list[float], speeds_mps: list[float], gear: FloatArray | None = None) -> Trace:
    time_s = np.arange(0, at_s[-1], 0.1)
    gears = None if gear is None else np.interp(time_s, at_s, gear).astype(np.int64)
    return make_trace(time_s, np.interp(time_s, at_s, speeds_mps), gear=gears)


@pytest.mark.parametrize(("cruise_s", "how"), [(60.0, "roll-on"), (2.0, "roll-on"), (0.01, "through the gears")])
def test_who_cruised_before_did_not_come_from_rest(cruise_s: float, how: str) -> None:
    trace = ridden([0, 5, 10, 10 + cruise_s, 14 + cruise_s, 17 + cruise_s], [0, 0, 14, 14, 28, 28])
    (run,) = runs_in([trace], [NOISE], [Span(60 / 3.6, 100 / 3.6)]).timed
    assert run.how == how


def test_parts_of_a_start_are_alike_with_one_gear_and_with_one_shift_more() -> None:
    """Another sprocket may put a shift into a span that took one gear before: that is what there is to compare."""
    at_s, speeds_mps = [0.0, 5, 8, 12, 15], [0.0, 0, 12, 28, 28]
    runs = []
    for gears in ([0.0, 0.0, 2.0, 2.0, 2.0], [0.0, 0.0, 2.0, 3.9, 3.9]):
        (run,) = runs_in([ridden(at_s, speeds_mps, np.array(gears))], [NOISE], [Span(60 / 3.6, 100 / 3.6)]).timed
        runs.append(run)
    assert [run.gears for run in runs] == [(2,), (2, 3)]
    assert [(run.how, run.from_rest, run.gears_alike) for run in runs] == [("through the gears", True, ())] * 2


@pytest.mark.parametrize(("rate_hz", "hidden"), [(1.0, True), (10.0, False)])
def test_a_shift_that_slow_samples_hide_at_the_target_counts(rate_hz: float, hidden: bool) -> None:
    """At 1 Hz nobody sees which side of 20 m/s the 0.35 s without drive lay: 0.1 s more."""
    time_s = np.arange(0, 30, 1 / rate_hz)
    speed = start_and_stop(5.0, 2.5, 40.0)(time_s)
    own = []
    for shift_mps in (100.0, 20.0):
        gear = np.where(speed == 0, 0, np.where(speed < shift_mps, 1, 2))
        trace = make_trace(time_s, speed, gear=gear)
        (run,) = runs_in([trace], [NOISE], [SPAN], keep_roughness=True).timed
        own.append(run.errors_s["end"])
    assert own[1] ** 2 - own[0] ** 2 == pytest.approx(0.35**2 / 12 if hidden else 0.0, abs=1e-6)
