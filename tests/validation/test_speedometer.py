"""The targets of the speedometer check, on fewer rides than the study prints."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from gearfit.units import MPS_PER_KMH
from tests.validation.speedometer import rides, sheets, swaps, undecidable

pytestmark = pytest.mark.validation

#: With 80 rides a true 95 % is above this in 999 of 1000 studies (binomial).
LEAST_SHARE = 0.86


def test_gain_offset_and_intervals_of_ten_minute_rides() -> None:
    found = rides(80)
    assert np.sqrt(np.mean(np.square(found.gain_percent))) < 0.2
    assert np.sqrt(np.mean(np.square(found.offset_kmh))) < 0.3
    for held in (found.gain_held, found.offset_held, found.error_held):
        assert np.mean(held) > LEAST_SHARE


def test_the_pick_up_is_told_rightly() -> None:
    rights = [(told, "a wheel" if driven == "wheel" else driven) for _, driven, told in swaps(32)]
    assert all(told in (right, "cannot tell", "neither") for told, right in rights)
    assert sum(told == right for told, right in rights) >= 31


def test_a_pick_up_that_cannot_be_told_is_not_claimed() -> None:
    told = undecidable(200)
    assert told["False"] == told["neither"] == 0
    assert told["cannot tell"] > 180


def test_ten_readings_give_a_verdict_or_an_honest_doubt() -> None:
    found, verdicts, wrong = sheets(200, 10, MPS_PER_KMH)
    assert set(verdicts) <= {"within", "outside", "cannot tell yet"}
    assert verdicts != Counter({"cannot tell yet": 200})
    assert wrong <= 4
    assert np.mean(found.gain_held) > 0.89
