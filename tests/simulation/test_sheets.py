"""Hand-entered sheets and hand-timed runs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from gearfit.units import MPS_PER_KMH, MPS_PER_MPH
from tests.simulator.machines import commuter_twin, trail_bike
from tests.simulator.sheets import HandReading, Speedometer, misread, observe_runs, observe_sheet, true_time_s

PLAN = [(gear, rpm) for rpm in (4000.0, 5000.0) for gear in range(1, 7)]
STEADY = HandReading(held_sd_rpm=0.0, receiver_sd_mps=0.0, needle_sd_mps=0.0)


def test_sheet_reads_n_c_over_60_i_to_the_next_mph() -> None:
    machine = replace(commuter_twin(), slip_per_n=0.0)
    sheet = observe_sheet(machine, PLAN, np.random.default_rng(1), reading=STEADY).samples
    ratios = np.array(machine.overall_ratios)[sheet["stated_gear"].astype(int) - 1]
    exact_mph = sheet["engine_rpm"] * 1.972 / (60 * ratios) / MPS_PER_MPH
    read_mph = sheet["speed_mps"].to_numpy() / MPS_PER_MPH
    np.testing.assert_allclose(read_mph, np.rint(exact_mph), atol=1e-9)
    np.testing.assert_allclose(sheet["speed_sd_mps"], MPS_PER_MPH / math.sqrt(12))
    assert sheet["row"].tolist() == list(range(2, 14))


def test_tachometer_that_shows_too_much_gives_lower_speeds() -> None:
    fine = replace(STEADY, step_mps=0.0)
    true, wrong = (
        observe_sheet(trail_bike(), PLAN, np.random.default_rng(1), reading=reading).samples["speed_mps"].to_numpy()
        for reading in (fine, replace(fine, tachometer_scale_error=0.02))
    )
    np.testing.assert_allclose(true / wrong, 1.02, rtol=1e-4)


def test_unsteady_hand_scatters_as_stated() -> None:
    plan = [(4, 5000.0)] * 4000
    reading = HandReading(step_mps=0.0, held_sd_rpm=50.0, receiver_sd_mps=0.0)
    speed_mps = observe_sheet(trail_bike(), plan, np.random.default_rng(1), reading=reading).samples["speed_mps"]
    assert speed_mps.std() / speed_mps.mean() == pytest.approx(0.01, rel=4 / math.sqrt(2 * 4000))


@pytest.mark.parametrize(("driven_from", "change"), [("wheel", 16 / 15), ("gearbox output", 1.0)])
def test_speedometer_on_the_gearbox_does_not_see_the_sprocket(driven_from: str, change: float) -> None:
    instrument = Speedometer(
        gain=1.05, offset_mps=0.0, driven_from="wheel" if driven_from == "wheel" else "gearbox output"
    )
    reading = replace(STEADY, step_mps=0.0)
    before, after = (
        observe_sheet(
            replace(commuter_twin(setup), slip_per_n=0.0),
            PLAN,
            np.random.default_rng(1),
            reading=reading,
            receiver=False,
            speedometer=instrument,
        )
        for setup in ("before", "after")
    )
    shown = [sheet.samples["indicated_mps"].to_numpy() for sheet in (before, after)]
    np.testing.assert_allclose(shown[1] / shown[0], change, rtol=1e-12)
    np.testing.assert_array_equal(after.samples["speed_mps"], after.samples["indicated_mps"])
    assert after.speed_source == "speedometer"


def test_sheet_with_both_keeps_receiver_and_needle_apart() -> None:
    sheet = observe_sheet(trail_bike(), PLAN, np.random.default_rng(1), reading=STEADY, speedometer=Speedometer(1.1))
    assert sheet.speed_source == "hand"
    assert np.all(sheet.samples["indicated_mps"] > sheet.samples["speed_mps"])


def test_sheet_without_speeds_is_a_held_rpm_sheet() -> None:
    sheet = observe_sheet(trail_bike(), PLAN, np.random.default_rng(1), receiver=False)
    assert (sheet.kind, sheet.speed_source, sheet.speed_step_mps) == ("held rpm", "none", None)
    assert sheet.samples["speed_mps"].isna().all()


def test_misread_changes_one_row_of_a_copy() -> None:
    sheet = observe_sheet(trail_bike(), PLAN, np.random.default_rng(1))
    wrong = misread(sheet, 3, 10 * MPS_PER_MPH)
    difference = wrong.samples["speed_mps"] - sheet.samples["speed_mps"]
    assert np.flatnonzero(difference).tolist() == [3]
    assert difference[3] == pytest.approx(4.4704)


def test_timed_runs_scatter_by_the_rider_and_the_stopwatch() -> None:
    machine, to_mps = trail_bike(), 80 * MPS_PER_KMH
    still = observe_runs(machine, 0.0, to_mps, 60, np.random.default_rng(1), reaction_sd_s=0.0).runs["time_s"]
    timed = observe_runs(machine, 0.0, to_mps, 60, np.random.default_rng(2), reaction_sd_s=0.3).runs["time_s"]
    assert timed.std() == pytest.approx(math.hypot(0.3, still.std()), rel=4 / math.sqrt(2 * 60))
    middle_s = true_time_s(machine, 0.0, to_mps, 0.9 * machine.limit_rpm, np.random.default_rng(1))
    assert still.mean() == pytest.approx(middle_s, abs=4 * still.std() / math.sqrt(60))


def test_roll_on_starts_at_its_speed() -> None:
    machine = replace(trail_bike(), drag_area_m2=0.0, rolling_coefficient=0.0)
    times_s = [
        true_time_s(machine, from_kmh / 3.6, to_kmh / 3.6, 9000.0, np.random.default_rng(1))
        for from_kmh, to_kmh in ((40, 80), (40, 60))
    ]
    assert 0.0 < times_s[1] < times_s[0]


def test_unreachable_speed_is_refused() -> None:
    with pytest.raises(ValueError) as caught:
        observe_runs(trail_bike(), 0.0, 70.0, 1, np.random.default_rng(1))
    assert str(caught.value) == "Fellside 300 does not reach 70 m/s; choose a lower speed"
