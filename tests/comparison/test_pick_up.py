"""Where the speedometer is driven from, told from gains before and after."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gearfit.comparison.pick_up import PickUp, pick_up
from gearfit.comparison.shift import Shift
from gearfit.machine.bike import FinalDrive, Setup, Tyre
from gearfit.records.estimate import Estimate
from gearfit.records.results import Speedometer
from tests.report.example import speedometer

SIXTEEN, FIFTEEN = (Setup(name, FinalDrive(front=front, rear=43)) for name, front in (("before", 16), ("after", 15)))


def gain(value: float, se: float = 0.002) -> Speedometer:
    return replace(speedometer(1.0, "within"), gain=Estimate(value, se, value - 2 * se, value + 2 * se))


def told(after: float, se: float = 0.002, reference: Setup = SIXTEEN, other: Setup = FIFTEEN) -> PickUp:
    found = pick_up(reference, other, gain(1.04, se), gain(after, se))
    assert found is not None
    return found


def test_a_pick_up_at_the_gearbox_counts_more_turns_with_a_smaller_sprocket() -> None:
    """16/15 by arithmetic: the shaft turns 6.67 % more often over the same road."""
    found = told(1.04 * 16 / 15)
    assert found.driven_from == "gearbox output"
    assert dict(found.expected_percent) == pytest.approx({"gearbox output": 100 / 15, "a wheel": 0.0})
    assert found.gain_percent.value == pytest.approx(100 / 15)
    assert found.gain_percent.contains(100 / 15)


def test_a_pick_up_at_a_wheel_sees_no_sprocket_and_which_wheel_is_not_said() -> None:
    assert told(1.04).driven_from == "a wheel"


def test_neither() -> None:
    assert told(1.04 * 1.03).driven_from == "neither"


@pytest.mark.parametrize(
    ("quantile", "reach"), [(1.959964, 3.090), (2.306, 4.501), (3.182446, 10.215), (12.7062, 318.3)]
)
def test_few_readings_give_up_a_pick_up_far_later(quantile: float, reach: float) -> None:
    """One-sided 0.1 % points of Student's t with endless, 8, 3 and 1 degrees of freedom (printed tables)."""
    se = 0.00002
    half = quantile * se
    one = replace(speedometer(1.0, "within"), gain=Estimate(1.04, se, 1.04 - half, 1.04 + half))
    for factor, said in ((0.98, "a wheel"), (1.02, "neither")):
        moved = 1.04 + factor * reach * se * 2**0.5
        found = pick_up(SIXTEEN, FIFTEEN, one, replace(one, gain=Estimate(moved, se, moved - half, moved + half)))
        assert found is not None
        assert found.driven_from == said


def test_wide_intervals_tell_nothing() -> None:
    assert told(1.04, se=0.05).driven_from == "cannot tell"
    assert told(1.04 * 16 / 15, se=0.05).driven_from == "cannot tell"


def test_without_a_change_nothing_can_be_told() -> None:
    assert told(1.04, other=replace(SIXTEEN, name="after")).driven_from == "cannot tell"
    assert told(1.10, other=replace(SIXTEEN, name="after")).driven_from == "neither"


def test_another_tyre_tells_the_wheels_apart() -> None:
    """5 % more circumference of the driven tyre: a rear pick-up turns 1/1.05 as often, a front one as before."""
    small, large = (
        Setup(name, FinalDrive(front=16, rear=43), Tyre(rolling_circumference_mm=mm))
        for name, mm in (("before", 2000.0), ("after", 2100.0))
    )
    assert told(1.04, reference=small, other=large).driven_from == "front wheel"
    both = told(1.04 / 1.05, reference=small, other=large)
    # The tyre moves a rear wheel and the gearbox output alike.
    assert both.driven_from == "cannot tell"
    assert dict(both.expected_percent)["rear wheel"] == pytest.approx(-100 / 21)


def test_without_tooth_counts_the_measured_change_of_the_gears_serves() -> None:
    bare = Setup("before"), Setup("after")
    moved = Shift((), Estimate(-6.25, 0.1, -6.45, -6.05), -0.0645385, 0.001, 20.0, None)
    found = pick_up(*bare, gain(1.04), gain(1.04 * 16 / 15), moved)
    assert found is not None
    assert found.driven_from == "gearbox output"
    assert pick_up(*bare, gain(1.04), gain(1.04)) is None
