"""Full throttle has to be seen before times are claimed: against simulated hands that stop short of the stop."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from gearfit.findings.analysis import analyse
from gearfit.records.recording import RideFolder, RideSetup
from gearfit.records.thrust_results import HardestRiding, SwapOnPaper
from gearfit.thrust.paper import on_paper, swap_on_paper
from gearfit.wording.swap_words import short_of
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machines import commuter_twin
from tests.simulator.recorder import observe_track
from tests.thrust.test_from_a_ride import SPANS
from tests.validation.swap_rides import Hand, hard_ride, throttled_nm, with_engine

HANDS = {
    "full": Hand(),
    "70 %, low revs": Hand(0.7, shift_share=0.7),
    "70 %, high revs": Hand(0.7),
    "60 %, high revs": Hand(0.6),
    "full, low revs": Hand(shift_share=0.7),
}


@cache
def found(hand: str, limit_stated: bool = True, starts: int = 5) -> SwapOnPaper | HardestRiding | None:
    rng = np.random.default_rng(8)
    machine = commuter_twin()
    ride = hard_ride(rng, machine, HANDS[hand], starts)
    recording = observe_track(ride, SpeedChannel(), rng, rpm=RpmChannel()).recording
    setup = RideSetup(machine.bike.setup("before"), (recording,))
    bike = replace(machine.bike, setups=(setup.setup,))
    if not limit_stated:
        bike = replace(bike, engine=replace(bike.engine, limit_rpm=None))
    result = analyse(RideFolder(Path("."), bike, True, (setup,), ())).setups[0]
    paper = on_paper(bike, setup, result, "after", 14 / 15, SPANS)
    swap = swap_on_paper(bike, setup, result, "after", 14 / 15, SPANS)
    assert (swap is None) is (not isinstance(paper, SwapOnPaper))
    return paper


def test_times_from_full_throttle() -> None:
    assert isinstance(found("full"), SwapOnPaper)


@pytest.mark.parametrize("hand", ["70 %, low revs", "full, low revs"])
def test_no_times_where_the_engine_is_not_revved(hand: str) -> None:
    hardest = found(hand)
    assert isinstance(hardest, HardestRiding)
    assert hardest.reached_rpm == pytest.approx(0.71 * 9000, rel=0.04)
    assert (hardest.limit_rpm, hardest.reaches) == (9000, False)
    assert "% of the limit, so what the engine can do is not known" in short_of(hardest)


@pytest.mark.parametrize("hand", ["70 %, high revs", "60 %, high revs"])
def test_no_times_where_the_hardest_riding_does_not_repeat(hand: str) -> None:
    hardest = found(hand)
    assert isinstance(hardest, HardestRiding)
    assert hardest.reaches
    assert "its thrust does not repeat often and closely enough" in short_of(hardest)


def test_one_start_repeats_nothing() -> None:
    hardest = found("full", starts=1)
    assert hardest is None or isinstance(hardest, HardestRiding)


def test_no_times_without_a_stated_limit() -> None:
    hardest = found("full", limit_stated=False)
    assert isinstance(hardest, HardestRiding)
    assert hardest.limit_rpm is None
    assert "state limit_rpm under [engine] in bike.toml" in short_of(hardest)


def test_one_gear_alone_is_said() -> None:
    assert "in one gear alone" in short_of(HardestRiding(3, 1, 0.0, 9000.0, False))


def test_a_throttle_part_open_takes_most_at_the_top() -> None:
    """The simulated flap: little at low engine speeds, much at high ones, nothing at the stop."""
    machine = with_engine(commuter_twin(), "flat")
    kept = [
        throttled_nm(machine, share * machine.limit_rpm, 0.6) / throttled_nm(machine, share * machine.limit_rpm, 1.0)
        for share in (0.25, 0.5, 0.75, 1.0)
    ]
    assert kept == sorted(kept, reverse=True)
    assert kept[0] > 0.9
    assert kept[-1] < 0.8
    assert throttled_nm(machine, 6000.0, 1.0) == pytest.approx(np.interp(6000.0, machine.torque_rpm, machine.torque_nm))
