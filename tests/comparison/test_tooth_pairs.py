"""Which tooth pairs could give a measured change."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gearfit.bike import FinalDrive
from gearfit.comparison.shift import Shift, shift
from gearfit.comparison.tooth_pairs import candidates, front_steps
from gearfit.fitting.levels import Levels
from gearfit.fitting.quantiles import percent_change
from gearfit.simulation.machine import Machine
from gearfit.simulation.machines import close_ratio_single, old_five_speed, trail_bike
from gearfit.simulation.recorder import Logger
from tests.fitting.simulated import ridden

OLD = FinalDrive(front=15, rear=43)
UNSTATED = FinalDrive()


def measured(log_change: float, log_se: float, dof: float = 60.0) -> Shift:
    return Shift((), percent_change(log_change, log_se, dof), log_change, log_se, dof, None)


def test_probabilities_are_a_share_of_one_and_sorted() -> None:
    for log_change in np.linspace(-0.15, 0.15, 13):
        listed = candidates(OLD, UNSTATED, measured(float(log_change), 0.004))
        probability = [pair.probability for pair in listed]
        assert 0 < sum(probability) <= 1 + 1e-12
        assert probability == sorted(probability, reverse=True)
        assert len(listed) <= 6


@pytest.mark.parametrize(("front", "rear"), [(14, 43), (16, 43), (15, 45), (15, 41)])
def test_a_sharp_measurement_names_the_pair(front: int, rear: int) -> None:
    log_change = float(np.log(front / rear * 43 / 15))
    best = candidates(OLD, UNSTATED, measured(log_change, 0.001))[0]
    assert (best.front, best.rear) == (front, rear)
    assert best.predicted_change_percent == pytest.approx(100 * np.expm1(log_change))


def test_pairs_closer_than_the_interval_are_listed_together() -> None:
    """15/45 changes by -4.44 %; 16/48 gives exactly the same, 14/42 as well: none may be named alone."""
    listed = candidates(OLD, UNSTATED, measured(float(np.log(43 / 45)), 0.001))
    pairs = {(pair.front, pair.rear): pair.probability for pair in listed}
    assert {(15, 45), (16, 48), (14, 42)} <= set(pairs)
    same = [
        pair.predicted_change_percent for pair in listed if (pair.front, pair.rear) in {(15, 45), (16, 48), (14, 42)}
    ]
    assert same == pytest.approx([100 * (43 / 45 - 1)] * 3)


def test_one_tooth_at_the_front_and_three_at_the_rear_are_not_told_apart_by_a_coarse_sheet() -> None:
    """14/43 is -6.67 %, 15/46 -6.52 %: 0.15 % apart."""
    listed = candidates(OLD, UNSTATED, measured(float(np.log(14 / 15)), 0.004))
    pairs = {(pair.front, pair.rear): pair.probability for pair in listed}
    assert {(14, 43), (15, 46)} <= set(pairs)
    assert pairs[14, 43] < 0.95


def test_what_the_rider_states_counts_but_does_not_overrule() -> None:
    change = measured(float(np.log(14 / 15)), 0.004)
    stated = candidates(OLD, FinalDrive(front=15, rear=46), change)
    assert (stated[0].front, stated[0].rear) == (15, 46)
    wrong = candidates(OLD, FinalDrive(front=16, rear=43), change)
    assert (wrong[0].front, wrong[0].rear) == (14, 43)


def test_nothing_without_a_reference_or_a_measurement() -> None:
    none = shift(None, None, None)
    assert candidates(OLD, UNSTATED, none) == ()
    assert candidates(FinalDrive(front=15), UNSTATED, measured(0.0, 0.01)) == ()
    assert front_steps(none) == ()


def test_front_steps_that_would_explain_a_change() -> None:
    """16 to 15 teeth is ln(15/16) = -0.0645; 15 to 14 -0.0690 is beyond two standard errors of 0.002."""
    assert front_steps(measured(float(np.log(15 / 16)), 0.0005)) == ((16, 15),)
    assert (15, 14) in front_steps(measured(float(np.log(15 / 16)), 0.004))


def levels_of(build: Callable[[str], Machine], setup: str, seed: int) -> Levels:
    found = ridden(build, seed, Logger(), setup).fit(teeth_known=False).levels
    assert found is not None
    return found


@pytest.mark.parametrize("build", [close_ratio_single, old_five_speed, trail_bike])
def test_the_right_pair_comes_first_in_simulated_changes(build: Callable[[str], Machine]) -> None:
    """One tooth at the front, and two at the rear; nothing but the reference pair is known."""
    for seed in range(2):
        moved = shift(levels_of(build, "before", seed), levels_of(build, "after", seed), None)
        bike = build("before").bike
        before, after = (bike.setup(name).final_drive for name in ("before", "after"))
        best = candidates(before, UNSTATED, moved)[0]
        assert (best.front, best.rear) == (after.front, after.rear)


def test_another_tyre_is_not_taken_for_other_teeth() -> None:
    """The teeth stay at 15/45 and a stated tyre makes the machine 4 % faster: the pair is 15/45 all the same."""
    teeth = FinalDrive(front=15, rear=45)
    found = candidates(teeth, teeth, measured(float(np.log(1.04)), 0.002), 1.04)
    assert (found[0].front, found[0].rear) == (15, 45)
    assert found[0].probability > 0.9
