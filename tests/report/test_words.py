"""Numbers as people read them."""

from __future__ import annotations

import math

import pytest

from gearfit.machine.bike import FinalDrive, Setup
from gearfit.records import words
from gearfit.records.results import Estimate

NAN = float("nan")


@pytest.mark.parametrize(
    ("half", "decimals"),
    [(0.22, 2), (0.35, 2), (0.4, 1), (0.0059, 3), (3.0, 1), (4.0, 0), (250.0, 0), (0.0, 2), (NAN, 2), (1e-9, 4)],
)
def test_decimals_follow_the_interval(half: float, decimals: int) -> None:
    assert words.decimals_for(half) == decimals


@pytest.mark.parametrize(
    ("value", "shown"), [(None, "–"), (NAN, "–"), (math.inf, "–"), (-0.001, "0.00"), (-1.235, "−1.24"), (2.0, "+2.00")]
)
def test_numbers_have_a_true_minus_and_no_negative_zero(value: float | None, shown: str) -> None:
    assert words.number(value, 2, signed=True) == shown


def test_an_end_that_is_not_zero_is_not_shown_as_zero() -> None:
    assert words.interval(Estimate(-0.5, 0.25, -0.98, -0.02), signed=True) == "−0.98 to −0.02"


def test_value_with_and_without_interval() -> None:
    assert words.value_and_interval(Estimate(-7.1, 0.1, -7.3, -6.9), "%", signed=True) == "−7.10\xa0% (−7.30 to −6.90)"
    assert words.value_and_interval(Estimate(1.0, NAN, NAN, math.inf), "m") == "1.00\xa0m (no interval)"
    assert words.value_and_interval(None) == "–"
    assert words.value_and_interval(Estimate(NAN, NAN, NAN, NAN)) == "–"


def test_ordinals() -> None:
    assert [words.ordinal(n) for n in (1, 2, 3, 4, 11, 12, 21)] == ["1st", "2nd", "3rd", "4th", "11th", "12th", "21st"]


def test_labels() -> None:
    assert words.setup_label(Setup("after", FinalDrive(front=13, rear=43))) == "after (13/43)"
    assert words.setup_label(Setup("after", FinalDrive(front=13))) == "after"
    assert words.span_label(0.0, 60 * 1609.344 / 3600, "mph") == "0\xa0to\xa060\xa0mph"
    # 60 x 1.609344 = 96.56, 60/1.609344 = 37.28, 100/1.609344 = 62.14 (1 mile is 1.609344 km, 1959)
    assert words.span_label(0.0, 60 * 1609.344 / 3600, "kmh") == "0\xa0to\xa096.6\xa0km/h\xa0(60\xa0mph)"
    assert words.span_label(60 / 3.6, 100 / 3.6, "mph") == "37.3\xa0to\xa062.1\xa0mph\xa0(60\xa0to\xa0100\xa0km/h)"
    assert words.span_label(61.3 / 3.6, 100 / 3.6, "mph") == "38.1\xa0to\xa062.1\xa0mph"
    assert words.count(1, "sample") == "1 sample"
    assert words.count(12345, "sample") == "12\N{NARROW NO-BREAK SPACE}345 samples"


def test_one_of_a_thing_is_not_many() -> None:
    assert words.count(1, "run") == "1 run"
    assert words.count(0, "run") == "0 runs"
    assert words.count(1, "more pass", "more passes") == "1 more pass"
    assert words.count(2, "stretch", "stretches") == "2 stretches"
