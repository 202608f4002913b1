"""A simulated ride of five standing starts: what it shows, and the swap that it predicts, against the truth."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from gearfit.findings.analysis import analyse
from gearfit.records.recording import RideFolder, RideSetup
from gearfit.records.results import Analysis, SwapOnPaper
from gearfit.thrust.paper import swap_on_paper
from gearfit.thrust.swap import Asked
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import commuter_twin
from tests.simulator.recorder import observe_track
from tests.simulator.scripts import full_throttle_ride
from tests.validation.swap import SPANS_KMH, one_tooth_fewer, outcomes, true_times

SPANS = (Asked(0.0, 60 / 3.6), Asked(0.0, 100 / 3.6))
MACHINE = replace(commuter_twin(), bike=replace(commuter_twin().bike, total_kg=285.0))
LEVER = MACHINE.overall_ratios[0] * 2 * math.pi / MACHINE.circumference_m
HELD_BACK = replace(MACHINE, thrust_limit_n=0.75 * max(MACHINE.torque_nm) * MACHINE.efficiency * LEVER)


@cache
def analysed(held_back: bool) -> tuple[RideFolder, Analysis]:
    rng = np.random.default_rng(11)
    machine = HELD_BACK if held_back else MACHINE
    ride = full_throttle_ride(rng, machine, duration_s=330.0)
    recording = observe_track(ride, SpeedChannel(), rng, rpm=RpmChannel()).recording
    setup = RideSetup(machine.bike.setup("before"), (recording,))
    bike = replace(machine.bike, setups=(setup.setup,))
    folder = RideFolder(Path("."), bike, True, (setup,), ())
    return folder, analyse(folder)


@cache
def predicted(held_back: bool) -> SwapOnPaper:
    folder, analysis = analysed(held_back)
    swap = swap_on_paper(folder.bike, folder.setups[0], analysis.setups[0], "after", 14 / 15, SPANS)
    assert swap is not None
    return swap


def true_differences(machine: Machine) -> list[float]:
    rng = np.random.default_rng(0)
    before, after = true_times(machine, rng), true_times(one_tooth_fewer(machine), rng)
    return [after[span] - before[span] for span in ((0.0, 60.0), (0.0, 100.0))]


def test_the_torque_curve_is_that_of_the_engine() -> None:
    curve = predicted(False).curve
    truth = np.interp(curve.engine_rpm, MACHINE.torque_rpm, MACHINE.torque_nm) * MACHINE.efficiency
    assert np.max(np.abs(np.array(curve.torque_nm) / truth - 1)) < 0.10
    inside = (np.array(curve.lo95_nm) < truth) & (truth < np.array(curve.hi95_nm))
    assert np.mean(inside) > 0.8


def test_the_riders_shifts_are_seen() -> None:
    swap = predicted(False)
    assert swap.starts == 5
    assert swap.shift_s is not None
    assert swap.shift_s.value == pytest.approx(MACHINE.shift_time_s, abs=0.04)
    assert swap.shift_rpm is not None
    assert swap.shift_rpm.value == pytest.approx(0.88 * MACHINE.limit_rpm, rel=0.025)
    assert swap.drag_from == "coasting"
    assert (swap.shift_runs, swap.limit_rpm) == (5, MACHINE.limit_rpm)
    assert [swap.used_shift_rpm, swap.used_shift_s] == pytest.approx([swap.shift_rpm.value, swap.shift_s.value])


@pytest.mark.parametrize("held_back", [False, True])
def test_the_predicted_difference(held_back: bool) -> None:
    swap = predicted(held_back)
    assert swap.held_back is held_back
    for span, truth in zip(swap.spans, true_differences(HELD_BACK if held_back else MACHINE), strict=True):
        assert span.difference_s is not None
        # The target of the project: 0.10 s rms; here one ride, so three times that and its own interval.
        assert span.difference_s.value == pytest.approx(truth, abs=0.3)
        assert span.difference_s.lo95 - 0.05 < truth < span.difference_s.hi95 + 0.05


def test_first_gear_held_back_gains_nothing_from_a_shorter_final_drive() -> None:
    free, held = (predicted(held_back).spans[0].difference_s for held_back in (False, True))
    assert free is not None
    assert held is not None
    assert free.hi95 < 0.0
    assert held.value > free.value + 0.05


def test_another_mass_scales_the_forces_and_hardly_moves_the_times() -> None:
    folder, analysis = analysed(False)
    bike = replace(folder.bike, total_kg=300.0)
    swap = swap_on_paper(bike, folder.setups[0], analysis.setups[0], "after", 14 / 15, SPANS)
    assert swap is not None
    ratio = np.array(swap.curve.torque_nm) / np.array(predicted(False).curve.torque_nm)
    assert np.median(ratio) == pytest.approx(300 / 285, rel=0.02)
    for one, two in zip(swap.spans, predicted(False).spans, strict=True):
        assert one.difference_s is not None
        assert two.difference_s is not None
        assert one.difference_s.value == pytest.approx(two.difference_s.value, abs=0.03)


def test_changing_up_early_in_ordinary_riding_is_not_the_riders_rule() -> None:
    """In this ride somebody changes from fifth to sixth at 5200 rev/min and only then opens the throttle."""
    found = outcomes(3009)
    assert len(found) == len(SPANS_KMH)
    for outcome in found:
        assert outcome.predicted_s == pytest.approx(outcome.true_s, abs=0.3)


@pytest.mark.parametrize("missing", [1, 2, 3])
def test_a_gear_that_was_not_found_ends_the_prediction_below_it(missing: int) -> None:
    """Gears above it cannot be reached on paper; without first gear there is no start."""
    folder, analysis = analysed(False)
    setup = analysis.setups[0]
    fewer = replace(setup, gears=tuple(gear for gear in setup.gears if gear.gear != missing))
    swap = swap_on_paper(folder.bike, folder.setups[0], fewer, "after", 14 / 15, SPANS)
    assert (swap is None) is (missing == 1)
    if swap is not None:
        assert [thrust.gear for thrust in swap.reference.thrust] == list(range(1, missing))
        assert swap.spans[-1].difference_s is None, "100 km/h lies beyond these gears"


def test_a_ride_without_gears_says_nothing() -> None:
    folder, analysis = analysed(False)
    bare = replace(analysis.setups[0], gears=())
    assert swap_on_paper(folder.bike, folder.setups[0], bare, "after", 14 / 15, SPANS) is None
