"""A slipping clutch is named before the teeth; a sound one, other teeth or a wrong instrument are not taken for one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import gearfit
from gearfit.records.recording import RideFolder, RideSetup
from gearfit.records.results import Analysis, Finding
from tests.simulator.machines import trail_bike
from tests.simulator.ride import TrueRide
from tests.simulator.road import Road
from tests.slipping_clutch import WornClutch, slipping, worn
from tests.validation.clutch import TEETH, analysed, ride, sheet

LEAD = "The clutch of after may be behind this, see above. "


def found(analysis: Analysis, *codes: str) -> list[Finding]:
    return [finding for finding in analysis.findings if finding.code in codes]


def on_sheets(after: dict[str, np.ndarray], seed: int = 1) -> Analysis:
    """Analyse a sound pair of sheets, columns of the later one replaced."""
    machine, before = sheet(seed, "before", slips=False)
    recording = sheet(seed, "after", slips=False)[1]
    later = replace(recording, samples=recording.samples.assign(**after))
    bike = machine.bike
    setups = (RideSetup(bike.setup("before"), (before,)), RideSetup(bike.setup("after"), (later,)))
    return gearfit.analyse(RideFolder(Path(), bike, True, setups, ()))


# Worked by hand: 27 N m on plates that carry half of it, 6 % of 6800 rev/min at 27 N m: w_v = 408/(1/0.5 - 1) = 408, so
# at 20 N m w = 408 (20/13.5 - 1) = 196 rev/min.
def test_the_simulated_clutch_slips_as_its_equation_says() -> None:
    machine, n = trail_bike(), 2000
    thrust = 20.0 * 0.92 * machine.overall_ratios[4] * 2 * np.pi / machine.circumference_m
    held = {"speed_mps": 25.0, "engine_rpm": 6000.0, "thrust_n": thrust, "position_m": 0.0, "elevation_m": 0.0}
    time_s = np.linspace(0.0, 20.0, n)
    steady = TrueRide(machine, Road(), time_s, gear=np.full(n, 5), **{k: np.full(n, v) for k, v in held.items()})
    clutch = WornClutch(0.5, 0.06, wander_sd=0.0)
    ahead = slipping(steady, clutch, np.random.default_rng(1)).engine_rpm - 6000.0
    assert ahead[-1] == pytest.approx(408 * (20 / 13.5 - 1), rel=1e-6)
    light = replace(steady, thrust_n=steady.thrust_n * 0.6)
    assert np.all(slipping(light, clutch, np.random.default_rng(1)).engine_rpm == pytest.approx(6000.0))


@pytest.mark.parametrize("seed", [3, 5, 8])
def test_a_clutch_that_slips_under_load_is_named_first_with_its_size(seed: int) -> None:
    analysis = analysed(seed, slips=True, sheets=False)
    first = analysis.findings[0]
    assert (first.code, first.severity, first.about) == ("clutch-suspect", "warning", "after")
    assert first.text.startswith("after: the clutch may slip. In ")
    assert "It is a suspect and not proved" in first.text
    assert all(finding.text.startswith(LEAD) for finding in found(analysis, *TEETH))
    assert not [
        finding for finding in found(analysis, "tooth-pairs", "gear-off-its-teeth") if finding.severity != "note"
    ]


@pytest.mark.parametrize("seed", [3, 5, 8])
def test_a_sound_clutch_is_not_named(seed: int) -> None:
    assert not found(analysed(seed, slips=False, sheets=False), "clutch-suspect")


def test_other_teeth_than_stated_are_not_put_down_to_the_clutch() -> None:
    machine, before = ride(1, "before", slips=False)
    after = ride(1, "after", slips=False)[1]
    stated = machine.bike.setup("after")
    wrong = replace(stated, final_drive=replace(stated.final_drive, front=17))
    setups = (RideSetup(machine.bike.setup("before"), (before,)), RideSetup(wrong, (after,)))
    analysis = gearfit.analyse(RideFolder(Path(), machine.bike, True, setups, ()))
    assert not found(analysis, "clutch-suspect")
    (said,) = found(analysis, "change-disagrees")
    assert not said.text.startswith(LEAD)


def test_rows_of_a_sheet_ahead_under_load_name_the_clutch_and_what_else_it_may_be() -> None:
    machine = worn(sheet(1, "after", slips=False)[0], WornClutch(0.4, 0.08))
    rows = sheet(1, "after", slips=False)[1].samples
    pairs = zip(rows["engine_rpm"], rows["stated_gear"], strict=True)
    speeds = np.round([3.6 * machine.held_speed_mps(rpm, int(gear)) for rpm, gear in pairs]) / 3.6
    analysis = on_sheets({"speed_mps": speeds})
    first = analysis.findings[0]
    assert first.code == "clutch-suspect"
    assert "of the sheet under high load, in gears 5–6, the engine ran ahead of the road by " in first.text
    assert "as would a tachometer that shows too much at high speed only" in first.text
    assert all(finding.text.startswith(LEAD) for finding in found(analysis, *TEETH, "odd-row"))
    assert not found(on_sheets({}), "clutch-suspect")


def test_a_tachometer_that_shows_too_much_at_the_top_in_every_gear_is_no_clutch() -> None:
    rpm = sheet(1, "after", slips=False)[1].samples["engine_rpm"].to_numpy()
    high = np.where(rpm > 6000, rpm * 1.05, rpm)
    assert not found(on_sheets({"engine_rpm": high}), "clutch-suspect")


def test_upper_gears_that_look_shorter_put_the_clutch_beside_the_teeth() -> None:
    """Slip in the two fastest rows of sixth alone proves nothing, and the teeth are not accused alone either."""
    rows = sheet(1, "after", slips=False)[1].samples
    speeds = rows["speed_mps"].to_numpy() * np.where(rows["stated_gear"] == 6, 0.96, 1.0)
    analysis = on_sheets({"speed_mps": speeds})
    said = found(analysis, "gear-out-of-line", "gear-off-its-teeth", "clutch-suspect")
    assert said
    assert all("clutch of after" in finding.text or "clutch may slip" in finding.text for finding in said)
    longer = on_sheets({"speed_mps": rows["speed_mps"].to_numpy() * np.where(rows["stated_gear"] == 6, 1.04, 1.0)})
    assert not any("clutch of after" in finding.text for finding in longer.findings)
