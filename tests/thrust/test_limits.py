"""What bounds the prediction: the front wheel, and engine braking that must not pass for drag."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from gearfit.analysis import analyse
from gearfit.bike import Balance
from gearfit.recording import RideFolder, RideSetup
from gearfit.results import SetupResult
from gearfit.simulation.instruments import RpmChannel, SpeedChannel
from gearfit.simulation.manoeuvres import Coast, EngineBraking, Hold, Manoeuvre, RollOn, Standstill, Stop
from gearfit.simulation.recorder import observe_track
from gearfit.simulation.ride import TrueRide, simulate
from gearfit.thrust.coasting import coasting
from gearfit.thrust.envelope import Open
from gearfit.thrust.paper import swap_on_paper
from gearfit.thrust.resistance import usual
from gearfit.thrust.traces import traces
from tests.thrust.test_from_a_ride import MACHINE, SPANS, analysed, predicted

SLOWING: dict[str, list[Manoeuvre]] = {
    "closed throttle": [EngineBraking(3000.0)],
    "neutral": [Coast(8.0)],
    "neutral, then the brake": [Coast(4.5), Stop(), Standstill(3.0)],
    "the brake": [Stop(), Standstill(3.0)],
}


@cache
def slowed(how: str) -> tuple[RideSetup, SetupResult, TrueRide]:
    """Speeding up and slowing down four times, as given; and what was truly ridden."""
    rng = np.random.default_rng(3)
    script: list[Manoeuvre] = [Standstill(5.0)]
    for gear in (3, 4, 5, 4):
        script += [Hold(gear, 5000.0, 6.0), RollOn(gear, 4500.0, 7500.0)]
        script += SLOWING[how]
    ride = simulate(MACHINE, script, rng)
    recording = observe_track(ride, SpeedChannel(), rng, rpm=RpmChannel()).recording
    setup = RideSetup(MACHINE.bike.setup("before"), (recording,))
    bike = replace(MACHINE.bike, setups=(setup.setup,))
    return setup, analyse(RideFolder(Path("."), bike, True, (setup,), ())).setups[0], ride


def coasted(how: str) -> list[Open]:
    setup, result, _ = slowed(how)
    per_rpm = {gear.gear: gear.speed_per_1000rpm_mps.value / 1000 for gear in result.gears}
    return coasting(traces(setup, result), per_rpm, usual(285.0))


@pytest.mark.parametrize(
    ("how", "expected"), [("closed throttle", 0), ("neutral", 4), ("neutral, then the brake", 4), ("the brake", 0)]
)
def test_only_coasting_without_drive_says_drag(how: str, expected: int) -> None:
    assert len(coasted(how)) == expected


def test_coasting_ends_where_the_brake_begins() -> None:
    how = "neutral, then the brake"
    _, _, ride = slowed(how)
    braking = np.gradient(ride.speed_mps, ride.time_s) < -2.0
    assert braking.any()
    times = [stretch.trace.time_s[stretch.place] for stretch in coasted(how)]
    assert [np.ptp(time) > 2.0 for time in times] == [True] * 4
    for time in times:
        assert not braking[(ride.time_s >= time[0]) & (ride.time_s <= time[-1])].any()


def test_the_front_wheel_limits_the_thrust_after_the_swap_where_the_balance_is_stated() -> None:
    folder, analysis = analysed(False)
    # Front wheel lifts at g b / h = 9.80665 x 0.55 / 0.70 = 7.705 m/s^2: just above what was ridden.
    bike = replace(folder.bike, balance=Balance(cg_height_mm=700.0, cg_to_rear_mm=550.0))
    swap = swap_on_paper(bike, folder.setups[0], analysis.setups[0], "after", 14 / 15, SPANS)
    assert swap is not None
    assert swap.lift_capped
    free = predicted(False)
    assert not free.lift_capped
    rolling_mps2 = swap.resistance_n[0] / swap.mass_kg
    highest = max(swap.other.thrust[0].thrust_n) / swap.mass_kg
    assert highest <= max(9.80665 * 0.55 / 0.70 + rolling_mps2, max(free.reference.thrust[0].thrust_n) / 285.0) + 1e-6
    assert highest < max(free.other.thrust[0].thrust_n) / 285.0
    for capped, uncapped in zip(swap.spans, free.spans, strict=True):
        assert capped.difference_s is not None
        assert uncapped.difference_s is not None
        assert capped.difference_s.value > uncapped.difference_s.value
