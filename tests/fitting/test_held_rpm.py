"""Held-rpm sheets matched with the held speeds of a track."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gearfit.fitting.held_rpm import match_rows
from gearfit.fitting.ladder import Ladder, from_teeth
from gearfit.fitting.plateaus import Plateaus, find_plateaus
from gearfit.fitting.setup_fit import SetupFit, fit_setup
from gearfit.fitting.streams import HELD_RPM_SHEET, gather
from gearfit.recording import Recording
from gearfit.simulation.instruments import SpeedChannel
from gearfit.simulation.machine import Machine
from gearfit.simulation.machines import close_ratio_single, commuter_twin, trail_bike
from gearfit.simulation.manoeuvres import Manoeuvre, Standstill, Stop, Traffic
from gearfit.simulation.recorder import observe_track
from gearfit.simulation.ride import simulate
from gearfit.simulation.scripts import hold_plan, holds
from gearfit.simulation.sheets import observe_sheet


def ridden(machine: Machine, seed: int, rate_hz: float = 5.0) -> tuple[Recording, list[tuple[int, float]]]:
    """Track of holds in every gear, with traffic before and after, and the plan that was ridden."""
    rng = np.random.default_rng(seed)
    plan = hold_plan(machine, (0.45, 0.6))
    before, after = Traffic(100.0, 8.0, 25.0), Traffic(450.0, 8.0, 25.0)
    script: list[Manoeuvre] = [Standstill(5.0), before, *holds(plan, 9.0), after, Stop()]
    ride = simulate(machine, script, rng)
    return observe_track(ride, SpeedChannel(rate_hz=rate_hz), rng).recording, plan


def noted(machine: Machine, plan: list[tuple[int, float]], seed: int) -> Recording:
    rows = [(gear, 50.0 * round(rpm / 50)) for gear, rpm in plan]
    return observe_sheet(machine, rows, np.random.default_rng(seed), receiver=False)


def fitted(machine: Machine, *recordings: Recording, ladder: Ladder | None = None) -> SetupFit:
    known = ladder or from_teeth(machine.bike, machine.bike.setup(machine.setup))
    return fit_setup(gather(recordings), known)


@pytest.mark.parametrize("build", [trail_bike, commuter_twin, close_ratio_single])
@pytest.mark.parametrize("rate_hz", [1.0, 5.0])
def test_a_missed_and_an_extra_row_are_survived(build: Callable[[], Machine], rate_hz: float) -> None:
    machine = build()
    track, plan = ridden(machine, 3, rate_hz)
    rows = [*plan[:4], *plan[5:7], (3, 1.25 * plan[2][1]), *plan[7:]]
    fit = fitted(machine, track, noted(machine, rows, 4))
    assert fit.levels is not None
    assert fit.levels.gear.tolist() == list(range(1, machine.gear_count + 1))
    truth = np.array([np.log(1000 / machine.speed_per_1000rpm_mps(g)) for g in fit.levels.gear])
    assert (np.abs(fit.levels.log_ratio - truth) < 4 * np.sqrt(np.diag(fit.levels.covariance))).all()
    assert np.sum(fit.material.reasons == HELD_RPM_SHEET) <= 2
    (remark,) = fit.material.remarks
    assert remark.startswith("holds.csv: 1")
    assert remark.endswith("held engine speeds were matched, in order, with held speeds of the track")


def test_without_tooth_counts_it_says_so() -> None:
    machine = trail_bike()
    track, plan = ridden(machine, 5)
    fit = fit_setup(gather([track, noted(machine, plan, 6)]), None)
    assert fit.levels is None
    assert fit.material.remarks == (
        "holds.csv: without tooth counts in bike.toml the rows cannot be matched with the track",
    )


def test_the_sheet_of_another_ride_is_not_forced_onto_the_track() -> None:
    machine = trail_bike()
    track, _ = ridden(machine, 7)
    backwards = [(gear, 3000.0 + 400 * k) for k, gear in enumerate((6, 1, 5, 2, 6, 1, 4, 1, 6, 2))]
    fit = fitted(machine, track, noted(machine, backwards, 8))
    assert fit.levels is None
    assert fit.material.remarks[0].endswith("so the rows could not be used")


def held(speeds: list[float]) -> Plateaus:
    start_s = np.array([20.0 * k for k in range(len(speeds))], dtype=np.float64)
    return Plateaus(start_s, start_s + 9.0, np.array(speeds, dtype=np.float64), np.full(len(speeds), 0.05))


def test_matching_in_order() -> None:
    rows = np.log(np.array([10.0, 14.0, 18.0, 14.0]))
    found = match_rows(rows, np.full(4, 0.005), held([9.0, 10.1, 14.1, 25.0, 18.2, 14.1]), 0.0, 0.036)
    assert found.plateau.tolist() == [1, 2, 4, 5]
    assert found.reason == ""


def test_two_ways_are_none() -> None:
    """Speeds in equal factors fit a row further just as well when nothing is expected of the shift."""
    rows = np.log(10 * 1.3 ** np.arange(4.0))
    found = match_rows(rows, np.full(4, 0.005), held([float(v) for v in 10 * 1.3 ** np.arange(-1.0, 5.0)]), None, 0.036)
    assert found.plateau.tolist() == [-1] * 4
    assert found.reason == "the held speeds of the track fit the rows in more than one way"


def test_too_few_rows() -> None:
    found = match_rows(np.log([10.0, 12.0]), np.full(2, 0.005), held([10.0, 12.0]), 0.0, 0.036)
    assert found.reason == "2 rows and 2 held speeds are too few to match"


def test_plateaus_are_the_stretches_of_steady_speed() -> None:
    time_s = np.arange(0, 60, 0.2)
    speed = np.interp(time_s, [0, 10, 12, 30, 31, 32, 60], [0, 0, 15, 15, 20, 20, 20])
    speed += 0.05 * np.random.default_rng(9).standard_normal(time_s.size)
    found = find_plateaus(time_s, speed)
    assert found.speed_mps == pytest.approx([15.0, 20.0], abs=0.1)
    assert found.start_s == pytest.approx([12.0, 31.5], abs=1.1)
    assert (found.speed_sd_mps < 0.05).all()
    assert find_plateaus(np.empty(0), np.empty(0)).speed_mps.size == 0
