"""Which tooth pairs are fitted before and after, by change and levels, with all else that could move all gears."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gearfit.comparison.shift import Shift, shift
from gearfit.comparison.shown_reduction import Reduction
from gearfit.comparison.sold_pairs import goes_round
from gearfit.comparison.tooth_pairs import check_pairs, front_steps, sees_sprockets
from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.ratios.quantiles import percent_change
from gearfit.machine.bike import FinalDrive, Setup, Tyre
from gearfit.records.results import SprocketCheck
from tests.fitting.simulated import ridden
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, old_five_speed, trail_bike
from tests.simulator.recorder import Logger

#: Tyre by its size 2 %, tachometer anywhere within 3 %.
LEVEL_SD = math.hypot(0.02, 0.03 / math.sqrt(3))


def measured(log_change: float, log_se: float = 0.001, dof: float = 60.0) -> Shift:
    return Shift((), percent_change(log_change, log_se, dof), log_change, log_se, dof, None)


def setup(front: int | None = None, rear: int | None = None, tyre: Tyre | None = None) -> Setup:
    return Setup("any", FinalDrive(front=front, rear=rear), tyre or Tyre())


def change(before: tuple[int, int], after: tuple[int, int]) -> float:
    """ln of the change of road speed at the same engine speed."""
    return math.log(after[0] * before[1] / (after[1] * before[0]))


def levels(*fitted: tuple[int, int], departure: float = 0.0) -> tuple[Reduction, Reduction]:
    """What two rides show with these teeth, the tyre and the tachometer being off by `departure` in both."""
    first, second = (Reduction(math.log(rear / front) - departure, 0.001, LEVEL_SD) for front, rear in fitted)
    return first, second


def checked(first: Setup, second: Setup, moved: Shift, *shown: Reduction) -> SprocketCheck:
    found = check_pairs(first, second, moved, (shown[0], shown[1]) if shown else (None, None))
    assert found is not None
    return found


def best(found: SprocketCheck) -> tuple[tuple[int, int], tuple[int, int]]:
    return found.pairs[0].reference, found.pairs[0].other


def test_probabilities_are_a_share_of_one_and_sorted() -> None:
    for log_change in np.linspace(-0.15, 0.15, 7):
        found = checked(setup(15, 43), setup(), measured(float(log_change), 0.004))
        for listed in (found.candidates, found.pairs):
            probability = [pair.probability for pair in listed]
            assert sum(probability) <= 1 + 1e-12
            assert probability == sorted(probability, reverse=True)
            assert len(listed) <= 6


@pytest.mark.parametrize("after", [(14, 43), (16, 43), (15, 45), (15, 41), (15, 37), (13, 43)])
def test_a_sharp_measurement_names_the_pair(after: tuple[int, int]) -> None:
    log_change = change((15, 43), after)
    first = checked(setup(15, 43), setup(), measured(log_change)).candidates[0]
    assert (first.front, first.rear) == after
    assert first.predicted_change_percent == pytest.approx(100 * math.expm1(log_change))


def test_a_pair_eight_teeth_away_that_is_stated_and_fitted_is_the_one() -> None:
    """15/50 to 15/42: beyond six teeth from the reference the search ended once."""
    moved = measured(change((15, 50), (15, 42)))
    found = checked(setup(15, 50), setup(15, 42), moved)
    assert best(found) == ((15, 50), (15, 42))
    assert found.candidates[0].probability > 0.9
    unstated = checked(setup(15, 50), setup(), moved).candidates[0]
    assert (unstated.front, unstated.rear) == (15, 42)


def test_teeth_are_not_likely_because_they_are_stated() -> None:
    """Known to 1.2 %, 13/49 fits as well as the stated 13/50, which only the papers prefer; to 0.1 %, it is told."""
    first, second = setup(13, 46), setup(13, 50)
    open_ = checked(first, second, measured(change((13, 46), (13, 49)) - 0.003, 0.012, 10.0))
    assert best(open_) == ((13, 46), (13, 50))
    assert open_.pairs[0].probability > 0.8
    assert open_.candidates[0].probability < 0.8
    assert checked(first, second, measured(change((13, 46), (13, 50)))).candidates[0].probability > 0.9


def test_stated_pairs_outside_what_is_sold_are_looked_at() -> None:
    found = checked(setup(9, 24), setup(9, 75), measured(change((9, 24), (9, 75))))
    assert best(found) == ((9, 24), (9, 75))


@pytest.mark.parametrize("percent", [60, 60.9, -45])
@pytest.mark.parametrize("second", [setup(), setup(14, 45), setup(15, 45)])
def test_no_pair_fits_what_no_sprocket_does(percent: float, second: Setup) -> None:
    found = checked(setup(15, 45), second, measured(math.log1p(percent / 100)))
    assert found.candidates == ()
    assert found.pairs == ()
    assert found.no_pair_probability > 0.4


def test_pairs_that_change_alike_are_listed_together() -> None:
    """14/43 is -6.67 % from 15/43, 15/46 is -6.52 %: 0.15 % apart, which two rides differ by anyway."""
    found = checked(setup(15, 43), setup(), measured(math.log(14 / 15), 0.004))
    pairs = {(pair.front, pair.rear): pair.probability for pair in found.candidates}
    assert {(14, 43), (15, 46)} <= set(pairs)
    assert pairs[14, 43] < 0.8


def test_what_the_rider_states_counts_but_does_not_overrule() -> None:
    moved = measured(math.log(14 / 15), 0.004)
    assert best(checked(setup(15, 43), setup(15, 46), moved)) == ((15, 43), (15, 46))
    assert best(checked(setup(15, 43), setup(16, 43), moved))[1] != (16, 43)


@pytest.mark.parametrize("departure", [0.0, 0.015, -0.015])
def test_the_teeth_of_the_reference_can_be_wrong(departure: float) -> None:
    """15/45 on paper, 14/45 fitted, then 13/45: neither ride fits 15/45, and only the change says nothing of that."""
    fitted = (14, 45), (13, 45)
    found = checked(setup(15, 45), setup(13, 45), measured(change(*fitted)), *levels(*fitted, departure=departure))
    assert best(found) == fitted
    assert found.pairs[0].probability > 0.8
    assert found.stated_probability is not None
    assert found.stated_probability < 0.001
    assert found.candidates[0].predicted_change_percent == pytest.approx(100 * (13 / 14 - 1))


@pytest.mark.parametrize("pairs", [((15, 45), (14, 45)), ((15, 45), (15, 48))])
def test_exchanged_setups_are_told(pairs: tuple[tuple[int, int], tuple[int, int]]) -> None:
    """15/45 and 14/45 the wrong way round: +7.1 % where -6.7 % is predicted."""
    found = checked(setup(*pairs[0]), setup(*pairs[1]), measured(-change(*pairs)), *levels(pairs[1], pairs[0]))
    assert found.exchanged_probability > 0.8
    assert best(found) == (pairs[1], pairs[0])
    right = checked(setup(*pairs[0]), setup(*pairs[1]), measured(change(*pairs)), *levels(*pairs))
    assert right.exchanged_probability < 0.001


def test_exchanged_with_another_tyre_as_well() -> None:
    """The same teeth on two stated tyres 4 % apart, exchanged: -4 % where +4 % is predicted."""
    small, large = (Tyre(rolling_circumference_mm=mm) for mm in (1950.0, 2028.0))
    first, second = setup(15, 45, small), setup(15, 45, large)
    found = checked(first, second, measured(-math.log(1.04)), *levels((15, 45), (15, 45)))
    assert found.exchanged_probability > 0.8
    assert checked(first, second, measured(math.log(1.04))).exchanged_probability < 0.01


@pytest.mark.parametrize("tyre", [0.012, -0.012, 0.018, -0.018])
def test_another_tyre_of_the_same_size_is_an_explanation(tyre: float) -> None:
    pairs = (15, 45), (14, 45)
    found = checked(setup(*pairs[0]), setup(*pairs[1]), measured(change(*pairs) + tyre), *levels(*pairs))
    assert found.another_tyre_probability > 0.2
    assert best(found) == pairs or found.pairs[0].probability < 0.8


def test_a_stated_tyre_is_not_taken_for_other_teeth() -> None:
    """The teeth stay at 15/45 and a stated tyre makes the machine 4 % faster: the pair is 15/45 all the same."""
    first, second = (setup(15, 45, Tyre(rolling_circumference_mm=mm)) for mm in (1950.0, 2028.0))
    found = checked(first, second, measured(math.log(1.04), 0.002))
    assert best(found) == ((15, 45), (15, 45))
    assert found.candidates[0].probability > 0.8


def test_the_chain_rules_out_what_it_does_not_go_round() -> None:
    """A rear sprocket of 4 teeth more takes two links more, one on each half: the axle comes one pitch forward.

    A pitch of 15.875 mm on an adjuster of 12 mm does not go, on one of 20 mm it does (handbook formula, C falls by a
    quarter of the teeth).
    """
    short = FinalDrive(front=15, rear=45, pitch_mm=15.875, links=112, adjuster_mm=(0.0, 12.0))
    long = FinalDrive(front=15, rear=45, pitch_mm=15.875, links=112, adjuster_mm=(0.0, 20.0))
    assert not goes_round(short, (15, 49))
    assert goes_round(long, (15, 49))
    assert goes_round(FinalDrive(front=15, rear=45), (15, 70))
    assert not goes_round(FinalDrive(front=15, rear=45, pitch_mm=15.875, links=112), (15, 70))
    moved = measured(change((15, 45), (15, 49)))
    for chain, fits in ((short, False), (long, True)):
        second = Setup("b", replace(chain, front=None, rear=None))
        listed = checked(Setup("a", chain), second, moved).candidates
        assert ((15, 49) in {(pair.front, pair.rear) for pair in listed}) is fits


def test_nothing_without_a_reference_a_measurement_or_sprockets() -> None:
    none = shift(None, None, None)
    assert check_pairs(setup(15, 43), setup(), none) is None
    assert check_pairs(setup(15), setup(), measured(0.0, 0.01)) is None
    shaft = Setup("any", FinalDrive(kind="shaft", front=11, rear=33))
    assert check_pairs(shaft, shaft, measured(0.05)) is None
    assert front_steps(none) == ()


def test_gears_that_contradict_each_other_say_nothing() -> None:
    """Two gears, one +5 and one -5 %."""
    one, two = (
        Levels(np.array([1, 2]), np.array(level), 1e-6 * np.eye(2), 20.0, np.ones(2, int), np.ones(2, int))
        for level in ([5.0, 4.6], [4.95, 4.65])
    )
    moved = shift(one, two, None)
    assert moved.agreement is not None
    assert not moved.agreement.agrees.any()
    assert check_pairs(setup(15, 43), setup(14, 43), moved) is None


@pytest.mark.parametrize(
    ("sources", "driven_from", "log_change", "sees"),
    [
        (("receiver", "hand"), "gearbox output", 0.0, True),
        (("speedometer", "receiver"), "front wheel", -0.07, False),
        (("speedometer", "speedometer"), "gearbox output", -0.07, False),
        (("speedometer", "speedometer"), "front wheel", 0.0, True),
        (("speedometer", "speedometer"), "unknown", 0.0, False),
        (("speedometer", "speedometer"), "unknown", -0.07, True),
        (("machine", "receiver"), "rear wheel", -0.07, False),
        (("machine", "speedometer"), "rear wheel", -0.07, False),
        (("machine", "machine"), "gearbox output", -0.07, False),
        (("machine", "machine"), "rear wheel", 0.0, True),
        (("machine", "machine"), "unknown", 0.0, False),
        (("machine", "machine"), "unknown", -0.07, True),
    ],
)
def test_a_speedometer_counts_only_where_its_pick_up_allows(
    sources: tuple[str, str], driven_from: str, log_change: float, sees: bool
) -> None:
    assert sees_sprockets(sources, driven_from, measured(log_change)) is sees


def test_front_steps_that_would_explain_a_change() -> None:
    """16 to 15 teeth is ln(15/16) = -0.0645; 15 to 14 -0.0690 is beyond two standard errors of 0.002."""
    assert front_steps(measured(float(np.log(15 / 16)), 0.0005)) == ((16, 15),)
    assert (15, 14) in front_steps(measured(float(np.log(15 / 16)), 0.004))


def levels_of(build: Callable[[str], Machine], name: str, seed: int) -> Levels:
    found = ridden(build, seed, Logger(), name).fit(teeth_known=False).levels
    assert found is not None
    return found


@pytest.mark.parametrize("build", [close_ratio_single, old_five_speed, trail_bike])
def test_the_right_pair_comes_first_in_simulated_changes(build: Callable[[str], Machine]) -> None:
    """One tooth at the front, and two at the rear; nothing but the reference pair is known."""
    for seed in range(2):
        moved = shift(levels_of(build, "before", seed), levels_of(build, "after", seed), None)
        bike = build("before").bike
        before, after = (bike.setup(name).final_drive for name in ("before", "after"))
        found = checked(Setup("before", before), setup(), moved).candidates[0]
        assert (found.front, found.rear) == (after.front, after.rear)
