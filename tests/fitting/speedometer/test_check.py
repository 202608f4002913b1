"""From recordings to the verdict: simulated instruments of known gain, offset, lag and stops."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from gearfit.fitting.ratios.levels import Levels
from gearfit.importers import read_log
from gearfit.machine.bike import Bike, FinalDrive, Gearbox, Setup, Tyre
from gearfit.records.recording import Recording
from gearfit.records.results import Correction, Speedometer
from gearfit.records.schema import sample_table
from gearfit.speedometer.gather import BOTH_LOGGED, BY_RATIOS, BY_TEETH, ON_TRACK, gather_pairs
from gearfit.speedometer.judge import judge
from gearfit.speedometer.logs import display_step_mps
from gearfit.speedometer.match import match_in_order
from gearfit.speedometer.rules import CFR, NONE, R39, rule
from gearfit.units import MPS_PER_KMH, MPS_PER_MPH
from tests.simulator.dash import Dash, observe_dash, steady_sheet, without_receiver
from tests.simulator.instruments import SpeedChannel
from tests.simulator.machines import old_five_speed
from tests.simulator.recorder import observe_track
from tests.simulator.ride import TrueRide
from tests.simulator.scripts import hold_plan, holds_only, ten_minute_ride
from tests.simulator.sheets import Speedometer as Instrument

SETUP = Setup("before")
EVEN_KMH = np.linspace(30, 125, 12)


@cache
def a_ride() -> TrueRide:
    return ten_minute_ride(np.random.default_rng(7), old_five_speed("before"))


def check(*recordings: Recording, name: str | None = R39, unit: str = "kmh") -> Speedometer:
    gathered = gather_pairs(Bike(), SETUP, recordings, None, False)
    assert gathered is not None
    found = judge(gathered, rule(name), unit)
    assert isinstance(found, Speedometer), found
    return found


def why_not(*recordings: Recording) -> str:
    gathered = gather_pairs(Bike(), SETUP, recordings, None, False)
    assert gathered is not None
    found = judge(gathered, rule(R39))
    assert isinstance(found, str)
    return found


def log(
    gain: float = 1.05, offset_kmh: float = 1.0, *, seed: int = 1, rate_hz: float = 10.0, **dash: float
) -> Recording:
    shown = replace(Dash(Instrument(gain, offset_kmh * MPS_PER_KMH)), **dash)  # type: ignore[arg-type]
    return observe_dash(a_ride(), shown, SpeedChannel(rate_hz=rate_hz), np.random.default_rng(seed))


def sheet(
    gain: float, offset_kmh: float, true_kmh: NDArray[np.float64] = EVEN_KMH, *, seed: int = 1, step_mps: float = 0.01
) -> Recording:
    return steady_sheet(
        gain, offset_kmh * MPS_PER_KMH, true_kmh * MPS_PER_KMH, np.random.default_rng(seed), step_mps=step_mps
    )


def test_a_ten_minute_log_tells_gain_offset_and_lag() -> None:
    found = check(log(damping_s=0.5))
    assert found.gain.value == pytest.approx(1.05, abs=4 * found.gain.se)
    assert found.gain.se < 0.003
    assert found.offset_mps.value == pytest.approx(1.0 * MPS_PER_KMH, abs=4 * found.offset_mps.se)
    assert found.rests_on == (BOTH_LOGGED,)
    assert found.linear
    assert found.lag_s is not None
    # Damping 0.5 s, and an eighth of a second as a display refreshed four times a second is that old on average, less
    # the receiver's own 0.2 s.
    assert found.lag_s.value == pytest.approx(0.5 + 0.125 - 0.2, abs=0.06)
    assert found.verdict == "within"


def test_damping_does_not_look_like_a_smaller_gain() -> None:
    gains = [check(log(damping_s=damping_s)).gain.value for damping_s in (0.0, 0.9)]
    assert gains == pytest.approx([1.05, 1.05], abs=0.006)


def test_mph_and_kmh_give_the_same_metres_per_second() -> None:
    recording = log()
    one, other = check(recording), check(recording, unit="mph")
    assert one.gain == other.gain
    assert one.at == other.at
    for card, step_mps in ((one.card, 10 * MPS_PER_KMH), (other.card, 5 * MPS_PER_MPH)):
        steps = [line.shown_mps / step_mps for line in card]
        assert steps == pytest.approx(list(range(round(steps[0]), round(steps[0]) + len(steps))))


def test_a_display_that_stops_at_80_and_one_that_starts_at_20() -> None:
    found = check(log(ceiling_mps=80 * MPS_PER_KMH))
    assert found.ceiling_mps == pytest.approx(80 * MPS_PER_KMH)
    assert found.gain.value == pytest.approx(1.05, abs=4 * found.gain.se)
    assert (found.readings["set_aside"] == "at or near a stop of the instrument").sum() > 50
    # At a true 80 km/h it shows 80 at most: no error that the readings contradict.
    _, middle, _ = found.at
    assert middle.indicated_mps.value <= 80 * MPS_PER_KMH + 1e-9
    rests = check(log(starts_at_mps=20 * MPS_PER_KMH, rests_at_mps=20 * MPS_PER_KMH))
    assert rests.floor_mps == pytest.approx(20 * MPS_PER_KMH)
    assert rests.gain.value == pytest.approx(1.05, abs=4 * rests.gain.se)
    plain = check(log())
    assert (plain.floor_mps, plain.ceiling_mps) == (None, None)


def test_an_instrument_that_bends_is_given_as_a_curve() -> None:
    found = check(log(bend=6.0, step_mps=0.01))
    assert not found.linear
    slow, middle, _ = found.at
    for point in (slow, middle):
        true = 1.05 * point.true_mps + MPS_PER_KMH + 6.0 * (point.true_mps / 40) ** 2
        assert point.indicated_mps.value == pytest.approx(true, abs=0.25)
    shown = [point.indicated_mps.value for point in found.curve]
    assert shown == sorted(shown)


def test_a_log_and_a_track_on_one_clock_are_paired() -> None:
    track = observe_track(a_ride(), SpeedChannel(rate_hz=5.0), np.random.default_rng(3)).recording
    dash = log()
    samples = dash.samples.copy()
    samples["speed_mps"] = samples["indicated_mps"]
    alone = replace(dash, samples=samples, speed_source="speedometer", clock="utc", start_s=track.start_s)
    found = check(alone, track)
    assert found.gain.value == pytest.approx(1.05, abs=4 * found.gain.se)
    elapsed = replace(alone, clock="elapsed", start_s=0.0)
    assert why_not(elapsed, track) == "dash.csv holds shown speeds, but no speeds of a receiver at the same time."


@pytest.mark.parametrize(
    ("gain", "offset_kmh", "name", "verdict"),
    [
        (1.03, 2.0, R39, "within"),
        (0.96, -1.0, R39, "outside"),
        (1.16, 4.0, R39, "outside"),
        (0.96, -1.0, CFR, "within"),
        (1.16, 4.0, CFR, "outside"),
        (1.16, 4.0, NONE, "no rule"),
    ],
)
def test_ten_steady_readings_give_a_verdict(gain: float, offset_kmh: float, name: str, verdict: str) -> None:
    assert check(sheet(gain, offset_kmh), name=name).verdict == verdict


def test_a_doubt_says_how_many_readings_would_settle_it() -> None:
    found = check(sheet(1.002, 0.0))
    told = [p for p in found.at if p.readings_needed is not None]
    needed = [p.readings_needed or 0 for p in told]
    assert max(needed) > 1
    assert found.verdict == f"cannot tell yet (needs {max(needed)} more readings)"
    for point, more in zip(told, needed, strict=True):
        # The half width goes with one over the root of the number of readings.
        shown = point.indicated_mps
        margin = min(abs(shown.value - end) for end in (point.allowed_lo_mps or 0, point.allowed_hi_mps or 0))
        half, n = (shown.hi95 - shown.lo95) / 2, found.units
        assert half * np.sqrt(n / (n + more)) <= margin
        assert more == 1 or half * np.sqrt(n / (n + more - 1)) > margin


def test_speeds_not_ridden_are_not_judged() -> None:
    assert check(sheet(1.04, 1.0, np.linspace(30, 85, 12))).verdict == (
        "cannot tell yet (needs readings near 120 km/h)"
    )


def test_the_corrector_leaves_an_instrument_that_shows_no_less_than_the_truth() -> None:
    found = check(sheet(0.95, 1.0))
    assert isinstance(found.correction, Correction)
    factor = found.correction.pulse_factor
    assert factor == pytest.approx(round(factor, 3), abs=1e-9)
    assert factor > 1
    assert all(p.indicated_mps.lo95 >= p.true_mps for p in found.correction.remaining)
    assert [p.verdict for p in found.correction.remaining] == ["within"] * 3
    plain = check(sheet(1.08, 1.0), name=NONE).correction
    assert isinstance(plain, Correction)
    assert plain.pulse_factor == pytest.approx(1 / 1.08, abs=0.012)
    for point in plain.remaining:
        assert abs(point.error_mps.value) < 1.6 * MPS_PER_KMH


def test_the_dash_card_is_the_line_turned_round() -> None:
    found = check(sheet(1.05, 2.0))
    for line in found.card:
        expected = (line.shown_mps - found.offset_mps.value) / found.gain.value
        assert line.true_mps.value == pytest.approx(expected, abs=0.02)
        assert line.true_mps.lo95 < (line.shown_mps - 2.0 * MPS_PER_KMH) / 1.05 < line.true_mps.hi95


def test_a_sheet_of_shown_speeds_in_gear_rests_on_fitted_ratios() -> None:
    recording = in_gear_sheet()
    levels = Levels(np.array([3, 4]), np.log([300.0, 240.0]), np.diag([1e-7, 1e-7]), 20.0, *2 * (np.array([9, 9]),))
    gathered = gather_pairs(Bike(), SETUP, [recording], levels, False)
    assert gathered is not None
    assert gathered.rests_on == (BY_RATIOS,)
    found = judge(gathered, rule(R39))
    assert isinstance(found, Speedometer)
    assert found.gain.value == pytest.approx(1.06, abs=4 * found.gain.se)


def test_without_a_receiver_tooth_counts_and_circumference_serve_and_their_doubt_stays() -> None:
    bike = Bike(gearbox=Gearbox(2.0, (2.5, 2.0, 1.5, 1.2)))
    setup = Setup("before", FinalDrive(front=15, rear=45), Tyre(rolling_circumference_mm=1800.0))
    # Overall 9.0 in third: n/v = 60 x 9 / 1.8 = 300 rev/min per m/s; 7.2 in fourth: 240.
    gathered = gather_pairs(bike, setup, [in_gear_sheet()], None, False)
    assert gathered is not None
    assert gathered.rests_on == (BY_TEETH,)
    found = judge(gathered, rule(R39))
    assert isinstance(found, Speedometer)
    # 0.5 % of the stated circumference and 1 % of the tachometer, which more readings do not lessen.
    assert found.gain.se >= 1.06 * np.hypot(0.005, 0.01) * 0.98
    assert found.gain.value == pytest.approx(1.06, abs=3 * found.gain.se)
    unknown = gather_pairs(Bike(), SETUP, [in_gear_sheet()], None, False)
    assert unknown is not None
    assert judge(unknown, rule(R39)) == (
        "dash.csv notes shown speeds with engine speeds, but neither measured speeds nor tooth counts with a rolling "
        "circumference say how fast that is."
    )


def in_gear_sheet() -> Recording:
    """Third and fourth gear of an invented machine (300 and 240 rev/min per m/s), gain 1.06, whole km/h."""
    rng = np.random.default_rng(9)
    gear = np.tile([3.0, 4.0], 6)
    rpm = np.repeat([3000.0, 4000.0, 5000.0, 6000.0, 7000.0, 8000.0], 2)
    true = rpm / np.where(gear == 3, 300.0, 240.0)
    shown = np.round((1.06 * true + 0.1 * rng.standard_normal(12)) * 3.6) / 3.6
    samples = sample_table(
        "dash.csv", 12, speed_mps=shown, indicated_mps=shown, stated_gear=gear, engine_rpm=rpm, rpm_sd_rpm=0.003 * rpm
    )
    return replace(without_receiver(sheet(1.0, 0.0)), samples=samples)


def test_a_sheet_without_speeds_is_matched_with_the_held_speeds_of_the_track() -> None:
    machine = old_five_speed("before")
    plan = hold_plan(machine, (0.35, 0.55), (2, 3, 4, 5))
    ride = holds_only(np.random.default_rng(2), machine, plan=plan, hold_s=12.0)
    track = observe_track(ride, SpeedChannel(rate_hz=5.0), np.random.default_rng(3)).recording
    true_kmh = np.array([machine.held_speed_mps(rpm, gear) for gear, rpm in plan]) / MPS_PER_KMH
    noted = without_receiver(sheet(1.06, 1.0, true_kmh, step_mps=MPS_PER_KMH))
    found = check(noted, track)
    assert found.rests_on == (ON_TRACK,)
    assert found.readings["true_mps"].to_numpy() == pytest.approx(true_kmh * MPS_PER_KMH, abs=0.5)
    assert found.gain.value == pytest.approx(1.06, abs=4 * found.gain.se)
    backwards = replace(noted, samples=noted.samples.iloc[::-1].reset_index(drop=True))
    assert "cannot be matched with the" in why_not(backwards, track)


def test_an_ambiguous_match_is_none() -> None:
    held = np.arange(10.0, 30.0, 0.5)
    assert match_in_order(np.array([12.0, 15.0, 20.0, 26.0]) * 1.05, held) is None
    assert match_in_order(np.array([12.0, 15.0]), held) is None


@pytest.mark.parametrize(
    ("shown", "step_mps"),
    [
        ([40, 50, 65, 80, 95], MPS_PER_KMH),
        ([40, 50, 60], MPS_PER_KMH),
        ([40, 51, 65, 80, 95], MPS_PER_KMH),
        ([40.5, 51, 65, 80, 95], 0.5 * MPS_PER_KMH),
        ([40.3, 51, 65, 80, 95], 0.1 * MPS_PER_KMH),
    ],
)
def test_the_step_to_which_a_person_read_the_dash(tmp_path: Path, shown: list[float], step_mps: float) -> None:
    path = tmp_path / "dash.csv"
    path.write_text("indicated_kmh,gps_kmh\n" + "".join(f"{v:g},{v - 2:.1f}\n" for v in shown), encoding="utf-8")
    gathered = gather_pairs(Bike(), SETUP, [read_log(path)], None, False)
    assert gathered is not None
    assert gathered.pairs.step_mps == pytest.approx([step_mps] * len(shown))


def test_display_step() -> None:
    assert display_step_mps(np.array([10, 11, 13, 11]) / 3.6) == pytest.approx(1 / 3.6)
    assert display_step_mps(np.array([5.0, 5.0])) == 0.0


def test_rows_with_one_speed_missing_change_nothing() -> None:
    whole = sheet(1.05, 1.0)
    extra = whole.samples.iloc[:2].copy()
    extra["indicated_mps"] = np.nan
    longer = replace(whole, samples=pd.concat([whole.samples, extra], ignore_index=True))
    assert check(longer).gain == check(whole).gain


def test_two_readings_are_no_check() -> None:
    assert why_not(sheet(1.05, 1.0, np.array([50.0, 90.0]))) == (
        "2 pairs of shown and true speed are too few; three are the least."
    )


def test_no_shown_speed_is_no_check() -> None:
    track = observe_track(a_ride(), SpeedChannel(), np.random.default_rng(3)).recording
    assert gather_pairs(Bike(), SETUP, [track], None, False) is None
