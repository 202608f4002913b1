"""Pairs at round speeds, as people hold them: what the instrument was read to, the intervals, and the corrector."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gearfit.importers import read_log
from gearfit.machine.bike import Bike, Setup, SpeedometerSpec
from gearfit.records.results import Correction, Speedometer
from gearfit.speedometer.coarse import posterior_line
from gearfit.speedometer.gather import gather_pairs
from gearfit.speedometer.judge import OUT_OF_LINE, judge
from gearfit.speedometer.pairs import Gathered, sheet_pairs
from gearfit.speedometer.rules import CFR, NONE, R39, rule
from gearfit.units import MPS_PER_KMH, MPS_PER_MPH
from tests.validation.round_pairs import HABITS, Counts, study

#: A dash held at tens, rounded to 1: shown = 1.05 x true + 2 km/h, the needle somewhere within each step and the
#: satellite up to 0.4 km/h off; worked out by hand.
HELD = {20: 17.4, 30: 26.9, 40: 35.9, 50: 46.0, 60: 55.0, 70: 65.1, 80: 74.0, 90: 83.9, 100: 93.1, 110: 103.2}


def gathered(folder: Path, text: str, dash: SpeedometerSpec | None = None) -> Gathered:
    path = folder / "dash.csv"
    path.write_text(text, encoding="utf-8")
    found = gather_pairs(Bike(speedometer=dash or SpeedometerSpec()), Setup("before"), [read_log(path)], None, False)
    assert found is not None
    return found


def check(folder: Path, text: str, name: str = R39, dash: SpeedometerSpec | None = None) -> Speedometer:
    found = judge(gathered(folder, text, dash), rule(name))
    assert isinstance(found, Speedometer), found
    return found


def rows(shown: object, true: object, unit: str = "kmh") -> str:
    lines = "".join(f"{s:g},{t:g}\n" for s, t in zip(shown, true, strict=True))  # type: ignore[call-overload]
    return f"indicated_{unit},gps_{unit}\n{lines}"


def test_a_dash_held_at_tens_was_read_to_one(tmp_path: Path) -> None:
    found = check(tmp_path, rows(HELD, HELD.values()))
    assert found.gain.contains(1.05)
    assert found.gain.hi95 - found.gain.lo95 < 0.04
    assert found.offset_mps.contains(2 * MPS_PER_KMH)
    assert found.verdict == "within"
    assert not found.notes


def test_the_mirror_image_a_satellite_held_at_tens(tmp_path: Path) -> None:
    shown = [23, 33, 44, 54, 65, 76, 86, 96, 107, 118]
    found = check(tmp_path, rows(shown, range(20, 120, 10)))
    assert found.gain.contains(1.05)
    assert found.gain.hi95 - found.gain.lo95 < 0.04


@pytest.mark.parametrize("unit", ["kmh", "mph"])
def test_multiples_of_five_at_held_satellite_speeds_show_a_needle_read_to_five(tmp_path: Path, unit: str) -> None:
    """1.02 x true + 2 to the nearest five is the true speed at each: no error is seen, and yet it may be 2.5."""
    true = np.arange(15, 75, 5)
    shown = 5 * np.round((1.02 * true + 0.8) / 5)
    assert (shown == true).all()
    unit_mps = {"kmh": MPS_PER_KMH, "mph": MPS_PER_MPH}[unit]
    found = gathered(tmp_path, rows(shown, true, unit))
    assert found.pairs.step_mps == pytest.approx([5 * unit_mps] * 12)
    assert found.notes == (
        "dash.csv: other values were held and yet all that the dash showed are multiples of five, so it is taken to "
        f"have been read to five: if it was read finer, state indicated_step_{unit} under [speedometer] in bike.toml.",
    )
    told = judge(found, rule(R39))
    assert isinstance(told, Speedometer)
    assert told.gain.contains(1.02)
    assert told.offset_mps.contains(0.8 * unit_mps)
    assert told.gain.hi95 - told.gain.lo95 > 0.02
    stated = SpeedometerSpec(**{f"indicated_step_{unit}": 1.0})  # type: ignore[arg-type]
    finer = gathered(tmp_path, rows(shown, true, unit), stated)
    assert finer.pairs.step_mps == pytest.approx([unit_mps] * 12)
    assert not finer.notes


def test_a_coarser_step_is_stated(tmp_path: Path) -> None:
    dash = SpeedometerSpec(indicated_step_kmh=5.0)
    assert gathered(tmp_path, rows(HELD, HELD.values()), dash).pairs.step_mps == pytest.approx([5 * MPS_PER_KMH] * 10)
    stated = check(tmp_path, rows(HELD, HELD.values()), dash=dash)
    plain = check(tmp_path, rows(HELD, HELD.values()))
    assert stated.gain.se > 1.5 * plain.gain.se
    assert stated.gain.contains(1.05)


def test_readings_on_a_line_by_the_luck_of_rounding_are_no_better_than_the_step(tmp_path: Path) -> None:
    """1.05 x true is whole at multiples of 20: no scatter at all, though the offset may be up to half a step."""
    found = check(tmp_path, rows([21, 42, 63, 84, 105], [20, 40, 60, 80, 100]))
    assert found.offset_mps.contains(0.45 * MPS_PER_KMH)
    assert found.offset_mps.contains(-0.45 * MPS_PER_KMH)
    twice = check(tmp_path, rows([21, 21, 42, 42, 63, 63, 84, 84, 105, 105], np.repeat([20, 40, 60, 80, 100], 2)))
    assert twice.offset_mps.contains(0.45 * MPS_PER_KMH)


def test_all_lines_that_coarse_readings_allow_have_the_same_weight() -> None:
    """With next to no other errors the posterior is even over the lines through all steps: against drawn lines."""
    true = np.array([8.0, 13.0, 17.0, 22.0, 27.0, 31.0])
    shown = np.array([10.0, 14.0, 18.0, 24.0, 28.0, 32.0])
    tiny = np.full(6, 0.02)
    found = posterior_line(sheet_pairs("dash.csv", np.arange(6), true, tiny, shown, tiny, 2.0), 0.5, 1.05)
    rng = np.random.default_rng(11)
    level, slope = rng.uniform(18, 24, 400_000), rng.uniform(0.8, 1.2, 400_000)
    needle = level[:, None] + slope[:, None] * (true - true.mean())
    inside = (np.abs(needle - shown) <= 1.0).all(axis=1)
    lines = np.column_stack([level - slope * true.mean(), slope])[inside]
    assert inside.sum() > 3000
    assert found.parameters == pytest.approx(lines.mean(axis=0), abs=0.02)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(lines.std(axis=0), rel=0.06)


def test_three_pairs_outvote_nobody(tmp_path: Path) -> None:
    """The last of three was misread by ten; two others lie on some line, which says nothing."""
    found = check(tmp_path, rows([44, 75, 117], [40, 70, 100]))
    assert (found.readings["set_aside"] == "").all()
    assert found.gain.contains(1.05)
    assert found.verdict.startswith("cannot tell yet")
    plain = check(tmp_path, rows([44, 75, 107], [40, 70, 100]))
    assert plain.gain.contains(1.05)


@pytest.mark.parametrize("row", range(10))
@pytest.mark.parametrize("wrong", [-10, 10])
def test_one_of_ten_misread_by_ten_is_set_aside(tmp_path: Path, row: int, wrong: int) -> None:
    shown = [s + wrong * (k == row) for k, s in enumerate(HELD)]
    found = check(tmp_path, rows(shown, HELD.values()))
    assert np.flatnonzero(found.readings["set_aside"] == OUT_OF_LINE).tolist() == [row]
    assert found.gain.contains(1.05)


def test_pairs_in_mph_and_a_display_that_cuts_off(tmp_path: Path) -> None:
    true = np.array([14.2, 19.3, 23.9, 28.5, 33.4, 38.1, 42.6, 47.5, 52.4, 56.9])
    found = check(tmp_path, rows(np.floor(1.05 * true + 1.0), true, "mph"))
    assert found.gain.contains(1.05)
    assert found.gain.hi95 - found.gain.lo95 < 0.06
    # What is cut off is half a step on the average.
    assert found.offset_mps.contains(0.5 * MPS_PER_MPH)


@pytest.mark.parametrize("name", [R39, CFR, NONE])
@pytest.mark.parametrize(("gain", "offset"), [(0.98, 4.0), (1.0, 2.0), (1.05, 1.0), (1.1, 4.0)])
def test_no_corrector_raises_a_dash_that_shows_too_much(tmp_path: Path, gain: float, offset: float, name: str) -> None:
    true = np.arange(20, 120, 10)
    correction = check(tmp_path, rows(np.round(gain * true + offset, 1), true), name).correction
    if isinstance(correction, Correction):
        assert correction.pulse_factor < 1
        left = gain * correction.pulse_factor * true + offset - true
        assert left.min() >= 0
        assert all(point.error_mps.lo95 >= -1e-9 for point in correction.remaining)


def test_a_corrector_goes_as_near_to_the_truth_as_is_safe(tmp_path: Path) -> None:
    true = np.arange(20, 120, 10)
    correction = check(tmp_path, rows(np.round(1.08 * true + 1, 1), true), NONE).correction
    assert isinstance(correction, Correction)
    # 1 + 1.08 k v >= v up to 120 km/h, which is 20 % at most beyond the readings: k >= (1 - 1/120)/1.08 = 0.9182.
    assert correction.pulse_factor == pytest.approx(0.9185, abs=0.0025)


def test_no_corrector_without_an_error(tmp_path: Path) -> None:
    shown = [21, 30, 40, 49, 60, 71, 80, 90, 99, 110]
    assert check(tmp_path, rows(shown, range(20, 120, 10))).correction == (
        "no corrector is advised: at every speed the 95 % interval of the error holds zero"
    )


def test_no_factor_mends_too_little_and_too_much(tmp_path: Path) -> None:
    true = np.arange(20, 120, 10)
    correction = check(tmp_path, rows(np.round(1.1 * true - 6), true)).correction
    assert isinstance(correction, str)
    assert correction.endswith("which no one factor mends; have the instrument itself set right")
    less = check(tmp_path, rows(np.round(true - 5.0, 1), true)).correction
    assert isinstance(less, str)
    assert "would make it show far too much at some" in less


@pytest.mark.parametrize("habit", HABITS)
def test_sheets_of_ten_from_peoples_habits(habit: str) -> None:
    """The study on forty sheets: a true 95 % holds fewer than 33 of 40 in 7 of 10 000 (binomial)."""
    counts = Counts()
    for _, one, found in study(40, 3, habit, "kmh"):
        counts.add(one, found)
    assert sum(counts.gain_held) >= 33
    assert sum(counts.error_held) >= 33
    assert np.median(counts.width) <= 0.06
    assert counts.wrong["raises"] == 0
    assert counts.wrong["verdict"] <= 1
