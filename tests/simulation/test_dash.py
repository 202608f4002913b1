"""The simulated dash shows what its numbers say."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from gearfit.units import MPS_PER_KMH
from tests.simulator.dash import Dash, observe_dash, steady_sheet, without_receiver
from tests.simulator.instruments import SpeedChannel
from tests.simulator.machines import trail_bike
from tests.simulator.ride import TrueRide
from tests.simulator.scripts import city_ride
from tests.simulator.sheets import Speedometer

PLAIN = Dash(Speedometer(1.05, 0.3), damping_s=0.0, refresh_hz=10.0, step_mps=0.0, starts_at_mps=0.0)


@cache
def a_ride(setup: str = "before") -> TrueRide:
    return city_ride(np.random.default_rng(1), trail_bike(setup), duration_s=120.0)


def shown(dash: Dash, setup: str = "before") -> tuple[np.ndarray, np.ndarray]:
    ride = a_ride(setup)
    time_s = np.arange(0, 119, 0.1)
    return dash.read(ride, time_s), np.interp(time_s, ride.time_s, ride.speed_mps)


def test_gain_and_offset() -> None:
    needle, true = shown(PLAIN)
    assert needle == pytest.approx(0.3 + 1.05 * true, abs=0.06)


def test_a_pick_up_at_the_gearbox_does_not_see_the_final_drive() -> None:
    dash = replace(PLAIN, speedometer=Speedometer(1.0, 0.0, "gearbox output", "before"))
    needle, true = shown(dash, "after")
    moving = true > 5
    assert needle[moving] / true[moving] == pytest.approx(50 / 48, rel=5e-3)


def test_steps_rounded_and_cut_off() -> None:
    for floored in (False, True):
        needle, true = shown(replace(PLAIN, step_mps=MPS_PER_KMH, floored=floored))
        assert needle / MPS_PER_KMH == pytest.approx(np.rint(needle / MPS_PER_KMH))
        apart = (needle - 0.3 - 1.05 * true) / MPS_PER_KMH
        assert np.mean(apart) == pytest.approx(-0.5 if floored else 0.0, abs=0.1)


def test_stops() -> None:
    needle, _ = shown(replace(PLAIN, starts_at_mps=5.0, rests_at_mps=4.0, ceiling_mps=9.0))
    assert (needle.min(), needle.max()) == (4.0, 9.0)


def test_damping_lags_by_its_time_constant_while_the_speed_rises_steadily() -> None:
    ride = replace(a_ride(), speed_mps=2.0 * a_ride().time_s)
    time_s = np.arange(10, 100, 0.1)
    needle = replace(PLAIN, speedometer=Speedometer(1.0, 0.0), damping_s=0.5).read(ride, time_s)
    assert needle == pytest.approx(2.0 * (time_s - 0.5), abs=0.25)


def test_a_recording_has_both_speeds() -> None:
    recording = observe_dash(a_ride(), PLAIN, SpeedChannel(), np.random.default_rng(2))
    assert recording.kind == "log"
    assert recording.samples[["indicated_mps", "speed_mps"]].notna().all(axis=None)


def test_a_sheet_with_and_without_receiver() -> None:
    sheet = steady_sheet(1.05, 0.3, np.linspace(10, 30, 8), np.random.default_rng(3))
    apart = sheet.samples["indicated_mps"] - 1.05 * sheet.samples["speed_mps"] - 0.3
    assert abs(apart).max() < 1.0
    alone = without_receiver(sheet)
    assert alone.speed_source == "speedometer"
    assert (alone.samples["speed_mps"] == alone.samples["indicated_mps"]).all()
