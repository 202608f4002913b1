"""Odd sets of pairs: the judge answers at once, in numbers or in words, whatever was written down."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from gearfit.errors import UndecidableError
from gearfit.importers import read_log
from gearfit.machine.bike import Bike, Setup
from gearfit.records.estimate import Estimate
from gearfit.records.results import Correction, Speedometer
from gearfit.speedometer.clusters import inverse_told, solve_told
from gearfit.speedometer.correction import dash_card
from gearfit.speedometer.gather import gather_pairs
from gearfit.speedometer.judge import judge
from gearfit.speedometer.match import assign
from gearfit.speedometer.pairs import Gathered, Pairs, sheet_pairs
from gearfit.speedometer.rules import CFR, NONE, R39, rule
from gearfit.speedometer.shape import find_shape
from gearfit.units import MPS_PER_KMH

FloatArray = NDArray[np.float64]

#: More lines nobody glues to a dash.
MOST_LINES: Final = 40
STEPS_KMH: Final = (0.0, 0.01, 0.1, 1.0, 5.0, 20.0)


def readings(true_kmh: object, shown_kmh: object, step_kmh: float = 1.0, by_speed: bool = False) -> Pairs:
    true = MPS_PER_KMH * np.asarray(true_kmh, dtype=np.float64)
    shown = MPS_PER_KMH * np.asarray(shown_kmh, dtype=np.float64)
    found = sheet_pairs(
        "dash.csv", np.arange(true.size), true, 0.002 * true, shown, np.full(true.size, 0.15), step_kmh * MPS_PER_KMH
    )
    if by_speed and true.size:
        found.unit[:] = np.unique(true, return_inverse=True)[1]
    return found


def gathered(pairs: Pairs) -> Gathered:
    return Gathered(pairs, (0.0,), (), ("Nothing was noted.",))


@st.composite
def odd_pairs(draw: st.DrawFn) -> Pairs:
    """Pairs of few distinct speeds that repeat, on a line or a curve or not, some of them far off."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    held = rng.uniform(
        draw(st.sampled_from([1.0, 20.0, 115.0])), 120.0, draw(st.sampled_from([1, 2, 3, 3, 4, 5, 10, 40]))
    )
    true = rng.choice(held, draw(st.sampled_from([1, 2, 3, 5, 12, 24, 48])))
    gain, offset = (
        draw(st.sampled_from([1.05, 1.0, 0.6, 2.0, 0.0, -1.0, 5.0])),
        draw(st.sampled_from([0.0, 4.0, -20.0])),
    )
    scatter = rng.standard_normal(true.size)
    bend = draw(st.sampled_from([0.0, 0.0, 0.5])) * np.maximum(true - 60.0, 0.0)
    shown = offset + gain * true + bend + draw(st.sampled_from([0.5, 0.0, 1e-9, 3.0, 30.0])) * scatter
    lowest, highest = draw(st.sampled_from([(-1e9, 1e9), (-1e9, 1e9), (30.0, 90.0), (50.0, 50.0)]))
    shown = np.clip(shown, lowest, highest)
    step = draw(st.sampled_from(STEPS_KMH))
    shown = shown if step == 0 else step * np.round(shown / step)
    odd = draw(st.sampled_from([0, 0, 1, 3]))
    for place in rng.integers(0, true.size, odd):
        shown[place] = draw(st.sampled_from([0.0, 1e4, 1e8]))
    for place in rng.integers(0, true.size, odd // 2):
        true[place] = draw(st.sampled_from([0.1, 1e4, 1e8]))
    found = readings(true, shown, step, draw(st.booleans()))
    if draw(st.booleans()):
        # As of a log: readings count as intervals, several to a unit, and a lag is corrected.
        n = true.size
        found.timed[:] = 0
        found.unit[:] = np.arange(n) // draw(st.sampled_from([1, 3, 50]))
        found.rate_mps2[:] = draw(st.sampled_from([0.0, 1.0, 1e3])) * scatter
        found.damping_mps2[:] = draw(st.sampled_from([0.0, 1.0, 1.0])) * rng.choice([scatter, rng.standard_normal(n)])
    return found


def three_speeds(shown_kmh: tuple[float, float, float]) -> Pairs:
    """Six readings in each of three gears, held at one engine speed each: bends of which nothing tells."""
    return readings(np.repeat([30.8, 61.9, 75.4], 6), np.repeat(shown_kmh, 6))


@settings(max_examples=150, deadline=2000)
@given(odd_pairs(), st.sampled_from([R39, CFR, NONE]), st.sampled_from(["kmh", "mph"]))
@example(three_speeds((32, 64, 77)), R39, "kmh")
@example(three_speeds((26, 40, 51)), CFR, "mph")
@example(readings(np.tile([20.0, 65.0], 9), np.tile([22.0, 70.0], 9)), R39, "kmh")
@example(readings([50.0] * 41 + [20.0, 90.0], [52.0] * 41 + [1e4, 0.0]), R39, "kmh")
@example(readings(np.arange(1e7, 9e7, 1e7), np.arange(1e7, 9e7, 1e7)), NONE, "kmh")
def test_any_pairs_are_judged_in_finite_numbers_or_in_words(pairs: Pairs, name: str, unit: str) -> None:
    """Warnings are errors in all tests, so no root of a negative number and no division by zero either."""
    found = judge(gathered(pairs), rule(name), unit)
    if isinstance(found, str):
        assert found.strip()
        return
    assert 0 < found.gain.value <= 3
    assert len(found.card) <= MOST_LINES
    assert all(later.shown_mps > former.shown_mps for former, later in zip(found.card, found.card[1:], strict=False))
    for one in estimates(found):
        assert all(map(math.isfinite, (one.value, one.se, one.lo95, one.hi95)))
        assert one.se >= 0
        assert one.lo95 <= one.hi95


def estimates(found: Speedometer) -> Iterator[Estimate]:
    yield from (found.gain, found.offset_mps)
    yield from (point.indicated_mps for point in (*found.at, *found.curve))
    yield from (line.true_mps for line in found.card)
    if isinstance(found.correction, Correction):
        yield from (point.indicated_mps for point in found.correction.remaining)


@pytest.mark.parametrize("shown_kmh", [(32.0, 64.0, 77.0), (26.0, 40.0, 51.0)])
def test_three_held_speeds_are_a_straight_line_however_often_they_were_read(
    shown_kmh: tuple[float, float, float],
) -> None:
    shape = find_shape(three_speeds(shown_kmh))
    assert shape.linear
    assert shape.offset_mps.se > 0


def test_a_curve_at_many_speeds_is_still_seen() -> None:
    true = np.arange(20.0, 140.0, 4.0)
    assert not find_shape(readings(true, np.round(true + 0.002 * (true - 20) ** 2))).linear


@pytest.mark.parametrize(
    ("gain", "judged"), [(-0.5, False), (0.0, False), (0.2, False), (0.7, True), (2.5, True), (4.0, False)]
)
def test_a_gain_that_no_instrument_has_is_said_in_words(gain: float, judged: bool) -> None:
    true = np.arange(20.0, 120.0, 10.0)
    found = judge(gathered(readings(true, np.round(80 + gain * (true - 70)))), rule(NONE))
    assert isinstance(found, Speedometer) is judged
    assert judged or "no instrument" in str(found)


def test_rows_at_one_held_speed_do_not_average_their_rounding_away() -> None:
    """Hand-reckoned: two speeds 40 km/h apart, read to 1 km/h: rounding alone leaves sqrt(2/12)/40 to the gain."""
    often = readings(np.tile([40.0, 80.0], 50), np.tile([42.0, 83.0], 50), by_speed=True)
    assert find_shape(often).gain.se > np.sqrt(2 / 12) / 40
    once = readings([40.0, 60.0, 80.0], [42.0, 63.0, 83.0])
    assert find_shape(often).gain.se < find_shape(once).gain.hi95 - find_shape(once).gain.value


def test_a_card_over_absurd_speeds_has_wider_steps() -> None:
    true = np.arange(50.0, 5000.0, 200.0)
    card = dash_card(find_shape(readings(true, true + 3.0)), "kmh")
    assert 10 < len(card) <= MOST_LINES
    assert np.diff([line.shown_mps for line in card]) == pytest.approx(card[1].shown_mps - card[0].shown_mps)


def test_a_system_is_solved_or_refused_in_any_unit() -> None:
    matrix = np.array([[4.0, 1.0], [1.0, 3.0]])
    for unit in (1e-9, 1.0, 1e9):
        scale = np.diag([1.0, unit])
        assert scale @ inverse_told(scale @ matrix @ scale) @ scale == pytest.approx(np.linalg.inv(matrix))
    for alike in ([[1.0, 1.0], [1.0, 1.0]], [[1.0, 0.0], [0.0, 0.0]], [[1.0, np.nan], [np.nan, 1.0]]):
        with pytest.raises(UndecidableError, match="too much alike"):
            solve_told(np.array(alike), np.ones(2))


def test_rows_are_found_among_many_held_speeds() -> None:
    """A long sheet and a long ride: sixty rows among four hundred held speeds, in order."""
    rng = np.random.default_rng(5)
    held = rng.uniform(8, 35, 400)
    rows = np.sort(rng.choice(400, 60, replace=False))
    assert assign(1.03 * held[rows] + 0.6, 1.03 * held + 0.6).tolist() == rows.tolist()


SPEEDS_KMH: Final = (21.3, 34.7, 52.2, 48.9, 71.4, 88.1)


@pytest.mark.parametrize(
    ("shown_kmh", "copied"),
    [
        (SPEEDS_KMH, True),
        (tuple(speed + 0.3 for speed in SPEEDS_KMH), False),
        # Both rounded to one: the same by chance.
        (tuple(round(speed) for speed in SPEEDS_KMH), False),
    ],
)
def test_one_column_copied_from_the_other_judges_nothing(
    tmp_path: Path, shown_kmh: tuple[float, ...], copied: bool
) -> None:
    true_kmh = shown_kmh if all(float(speed).is_integer() for speed in shown_kmh) else SPEEDS_KMH
    path = tmp_path / "dash.csv"
    lines = "".join(f"{shown:.4g},{true:.4g}\n" for shown, true in zip(shown_kmh, true_kmh, strict=True))
    path.write_text(f"indicated_kmh,gps_kmh\n{lines}", encoding="utf-8")
    found = gather_pairs(Bike(), Setup("before"), [read_log(path)], None, False)
    assert found is not None
    assert ("a copy" in " ".join(found.notes)) is copied
    assert isinstance(judge(found, rule(NONE)), str) is copied
