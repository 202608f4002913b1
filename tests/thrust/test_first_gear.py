"""First gear held back or not: both answers keep the weight that the ride gives them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.thrust.ridden import ridden_thrust
from gearfit.thrust.swap import DRAWS, drawn
from gearfit.wording.swap_words import held_back
from tests.thrust.test_from_a_ride import analysed, predicted
from tests.validation.swap_cases import HELD, Case
from tests.validation.swap_cases import predicted as of_case

#: Rides in which first gear was once taken to be held back.
PEAKY_SEEDS = (7001, 7005, 7008)


@pytest.mark.parametrize("seed", PEAKY_SEEDS)
def test_a_peaky_engine_is_not_a_first_gear_held_back(seed: int) -> None:
    """Weak at the low engine speeds that only first gear sees."""
    swap, rows = of_case(seed, Case("", "peaky"))
    assert swap is not None
    assert not swap.held_back
    true, value, lo, hi, *_ = rows[0]
    assert true < -0.08
    assert value == pytest.approx(true, abs=0.06)
    assert lo < true < hi


def test_a_peaky_engine_held_back_is() -> None:
    swap, rows = of_case(PEAKY_SEEDS[0], Case("", "peaky", HELD))
    assert swap is not None
    assert swap.held_back_chance > 0.95
    true, _, lo, hi, *_ = rows[0]
    assert lo < true < hi


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_both_answers_are_drawn_as_often_as_they_are_likely(share: float) -> None:
    folder, analysis = analysed(True)
    ridden = ridden_thrust(folder.bike, folder.setups[0], analysis.setups[0])
    assert ridden is not None
    held, free = ridden.weighed
    assert np.isfinite(held.fit.cap_mps2)
    assert not np.isfinite(free.fit.cap_mps2)
    both = tuple(sorted((replace(held, weight=share), replace(free, weight=1 - share)), key=lambda one: -one.weight))
    weighed = replace(ridden, weighed=both)
    assert weighed.held_back == share
    capped = np.isfinite(drawn(folder.bike, weighed).machine.cap_mps2)
    # Binomial: 3 standard deviations of so many draws.
    assert np.mean(capped) == pytest.approx(share, abs=3 * (share * (1 - share) / DRAWS) ** 0.5 + 1e-9)
    assert capped[0] == (share > 0.5)


def test_words_say_what_the_ride_cannot_tell() -> None:
    sure, doubt, free = (held_back(replace(predicted(False), held_back_chance=chance)) for chance in (0.99, 0.4, 0.01))
    assert sure.startswith("First gear pulled less than the engine could give")
    assert doubt.startswith("The ride does not tell whether something held first gear back")
    assert "40 % likely" in doubt
    assert free == ""
