"""Held-rpm sheets matched with the held speeds of a track."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.fitting.gathering.streams import HELD_RPM_SHEET, gather
from gearfit.fitting.held.held_match import Match, match_rows
from gearfit.fitting.held.held_rpm import pair_up
from gearfit.fitting.held.plateaus import Plateaus, find_plateaus
from gearfit.fitting.pairing.held_clock import Watch, settings
from gearfit.fitting.setup_fit import SetupFit, fit_setup
from gearfit.fitting.which_gear.ladder import Ladder, from_teeth
from gearfit.records.recording import Recording
from tests.simulator.instruments import SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, commuter_twin, trail_bike
from tests.simulator.manoeuvres import Manoeuvre, Standstill, Stop, Traffic
from tests.simulator.recorder import observe_track
from tests.simulator.ride import simulate
from tests.simulator.scripts import hold_plan, holds
from tests.simulator.sheets import observe_sheet

FloatArray = NDArray[np.float64]


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


@pytest.fixture(scope="module")
def timed_ride() -> tuple[Machine, Recording, list[tuple[int, float]], FloatArray]:
    """Track of a trail bike, what was held, and when (s from the start of the track)."""
    machine = trail_bike()
    track, plan = ridden(machine, 5)
    found = find_plateaus(track.samples["time_s"].to_numpy(), track.samples["speed_mps"].to_numpy())
    speeds = np.array([machine.held_speed_mps(rpm, gear) for gear, rpm in plan])
    last = -1.0
    when_s: list[float] = []
    for speed in speeds:
        near = np.flatnonzero((np.abs(found.speed_mps / speed - 1) < 0.02) & (found.start_s > max(last, 100.0)))
        last = float(found.end_s[near[0]])
        when_s.append(last - 3.0)
    return machine, track, plan, np.array(when_s)


def noted_at(machine: Machine, rows: list[tuple[int, float]], of_day_s: FloatArray, to_s: float = 1.0) -> Recording:
    """A sheet with clock times, written to the second or to the minute, in the order of the clock."""
    written_s = np.floor(of_day_s / to_s) * to_s
    order = np.argsort(written_s, kind="stable")
    sheet = noted(machine, [rows[i] for i in order], 6)
    samples = sheet.samples.assign(time_s=written_s[order] - written_s.min())
    return replace(sheet, samples=samples, clock="time of day", start_s=float(written_s.min()))


@pytest.mark.parametrize("to_s", [1.0, 60.0])
@pytest.mark.parametrize(
    ("ahead_s", "said"),
    [
        (0.0, "the clocks agree"),
        (3600.0 + 180.0, "the clock of the sheet 1 h 3 min ahead of the track's"),
        (5.5 * 3600.0, "the clock of the sheet 5 h 30 min ahead of the track's"),
        (-7 * 3600.0 - 120.0, "the clock of the sheet 7 h 2 min behind the track's"),
    ],
)
def test_times_of_another_clock_are_no_hindrance(
    timed_ride: tuple[Machine, Recording, list[tuple[int, float]], FloatArray], ahead_s: float, said: str, to_s: float
) -> None:
    machine, track, plan, when_s = timed_ride
    assert track.start_s is not None
    sheet = noted_at(machine, plan, track.start_s % 86400.0 + when_s + ahead_s + 86400.0, to_s)
    fit = fitted(machine, track, replace(sheet, start_s=(sheet.start_s or 0.0) % 86400.0))
    (remark,) = fit.material.remarks
    hours_and_minutes = re.compile(r"\d+ min|the clocks agree")
    assert remark.startswith("holds.csv: 12 of 12 held engine speeds were matched, by their times (")
    assert remark.endswith(") and in order, with held speeds of the track")
    if to_s == 1.0:
        assert said in remark or hours_and_minutes.sub("", said) in hours_and_minutes.sub("", remark)
    assert_true_levels(fit, machine)


def test_times_that_fit_nothing_leave_the_order(
    timed_ride: tuple[Machine, Recording, list[tuple[int, float]], FloatArray],
) -> None:
    machine, track, plan, when_s = timed_ride
    assert track.start_s is not None
    spread_s = track.start_s % 86400.0 + np.linspace(0.0, 77.0, when_s.size)
    fit = fitted(machine, track, noted_at(machine, plan, spread_s))
    assert "their times, which do not fit the track, left aside, in order, with held speeds" in fit.material.remarks[0]
    assert np.sum(fit.material.reasons == HELD_RPM_SHEET) <= 2
    assert_true_levels(fit, machine)


def test_times_decide_where_order_and_speed_cannot() -> None:
    """Speeds in equal factors, nothing expected of the shift: only the clock says which hold is which."""
    rpm = 3000 * 1.3 ** np.arange(4.0)
    start_s = np.array([0.0, 40.0, 140.0, 180.0, 360.0, 460.0])
    plateaus = replace(held([float(v) for v in 10 * 1.3 ** np.arange(-1.0, 5.0)]), start_s=start_s, end_s=start_s + 9)
    ladder = Ladder(np.array([0.4, 0.0]), None, 0.036, "tooth counts")
    gear, time_s = np.full(4, 2), plateaus.start_s[1:5] + 4.0
    for ours, expected in (
        (Watch("none", 0.0), [-1] * 4),
        (Watch("utc", 7200.0), [1, 2, 3, 4]),
        (Watch("time of day", 19800.0), [1, 2, 3, 4]),
    ):
        ways = settings(time_s, ours, plateaus.start_s, plateaus.end_s, Watch("utc", 0.0))
        assert match_rows(pair_up(gear, rpm, 0.005 * rpm, plateaus, ways.off_time), ladder).plateau.tolist() == expected


def assert_true_levels(fit: SetupFit, machine: Machine) -> None:
    assert fit.levels is not None
    truth = np.array([np.log(1000 / machine.speed_per_1000rpm_mps(int(g))) for g in fit.levels.gear])
    assert (np.abs(fit.levels.log_ratio - truth) < 4 * np.sqrt(np.diag(fit.levels.covariance))).all()


NO_GEARBOX = (
    "holds.csv: the gearbox ratios are not stated, and without them {reason}, so the rows could not be used: "
    "state them in bike.toml ([gearbox] gears), or hold at least two engine speeds in each gear, note every hold in "
    "the order ridden and the time beside it"
)


@pytest.mark.parametrize("build", [trail_bike, commuter_twin])
def test_without_a_gearbox_one_gear_has_one_ratio(build: Callable[[], Machine]) -> None:
    machine = build()
    track, plan = ridden(machine, 5)
    fit = fit_setup(gather([track, noted(machine, plan, 6)]), None)
    assert_true_levels(fit, machine)
    assert fit.levels is not None
    assert fit.levels.gear.size >= 4
    assert " of 12 held engine speeds were matched, in order, with held speeds" in fit.material.remarks[0]


def test_without_a_gearbox_single_holds_tell_nothing() -> None:
    """One row a gear: any six held speeds that rise suit six gears."""
    machine = trail_bike()
    track, plan = ridden(machine, 5)
    fit = fit_setup(gather([track, noted(machine, plan[:6], 6)]), None)
    assert fit.levels is None
    (remark,) = fit.material.remarks
    assert remark == NO_GEARBOX.format(reason="the held speeds of the track fit the rows in more than one way")


def test_as_many_held_speeds_as_rows() -> None:
    gear, rpm = np.array([1, 1, 2, 2, 3, 3]), np.array([4000.0, 5000.0] * 3)
    level = np.array([6.0, 5.64, 5.4])[gear - 1]
    plateaus = held([float(v) for v in rpm / np.exp(level)])
    found = match_rows(pair_up(gear, rpm, 0.005 * rpm, plateaus, np.zeros((1, 6, 6))), None)
    assert found.plateau.tolist() == [0, 1, 2, 3, 4, 5]


def test_rows_of_one_gear_that_disagree_are_not_forced() -> None:
    gear, rpm = np.array([1, 1, 2, 2, 3, 3]), np.array([4000.0, 5000.0] * 3)
    plateaus = held([12.0, 11.0, 14.0, 22.0, 25.0, 24.0])
    found = match_rows(pair_up(gear, rpm, 0.005 * rpm, plateaus, np.zeros((1, 6, 6))), None)
    assert found.reason
    assert found.plateau.tolist() == [-1] * 6


def test_a_gear_that_the_gearbox_lacks_is_named() -> None:
    machine = trail_bike()
    track, plan = ridden(machine, 5)
    sheet = noted(machine, [*plan, (6, 5000.0)], 6)
    sheet.samples.loc[12, "stated_gear"] = 7.0
    fit = fitted(machine, track, sheet)
    (remark,) = fit.material.remarks
    assert remark == (
        "holds.csv: 12 of 13 held engine speeds were matched, in order, with held speeds of the track; 1 without a "
        "gear from 1 to 6 (the first is row 14 of holds.csv)"
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


def in_one_gear(speeds: list[float], plateaus: Plateaus, expected_shift: float | None) -> Match:
    """Rows at 1 rev/min per m/s beside plateaus, in order."""
    rpm, gear = np.array(speeds), np.ones(len(speeds), dtype=np.int64)
    known = pair_up(gear, rpm, 0.005 * rpm, plateaus, np.zeros((1, rpm.size, plateaus.speed_mps.size)))
    return match_rows(known, Ladder(np.zeros(1), expected_shift, 0.036, "tooth counts"))


def test_matching_in_order() -> None:
    found = in_one_gear([10.0, 14.0, 18.0, 14.0], held([9.0, 10.1, 14.1, 25.0, 18.2, 14.1]), 0.0)
    assert found.plateau.tolist() == [1, 2, 4, 5]
    assert found.reason == ""


def test_two_ways_are_none() -> None:
    """Speeds in equal factors fit a row further just as well when nothing is expected of the shift."""
    rows = [float(v) for v in 10 * 1.3 ** np.arange(4.0)]
    found = in_one_gear(rows, held([float(v) for v in 10 * 1.3 ** np.arange(-1.0, 5.0)]), None)
    assert found.plateau.tolist() == [-1] * 4
    assert found.reason == "the held speeds of the track fit the rows in more than one way"


def test_too_few_rows() -> None:
    found = in_one_gear([10.0, 12.0], held([10.0, 12.0]), 0.0)
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
