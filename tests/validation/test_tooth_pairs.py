"""The targets for tooth pairs, on fewer bikes than the study prints."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from tests.validation.tooth_pairs import KINDS, Case, Outcome, study


@cache
def bikes(kind: str, number: int = 20) -> list[tuple[Case, Outcome]]:
    return study(kind, range(number))


def wrongly_named(found: list[tuple[Case, Outcome]]) -> int:
    return sum(seen.named not in (None, drawn.true, drawn.stated) for drawn, seen in found)


@pytest.mark.parametrize("kind", KINDS)
def test_a_wrong_pair_is_hardly_ever_named(kind: str) -> None:
    """Target 2 %: of 20 bikes 3 or more in fewer than 1 of 100 studies (binomial)."""
    assert wrongly_named(bikes(kind)) <= 2


def test_a_right_statement_is_hardly_ever_accused() -> None:
    """Target 1 %: of 20 bikes 2 or more in 2 of 100 studies."""
    assert sum(seen.accused for _, seen in bikes("all as stated")) <= 1


def test_what_can_be_told_is_told() -> None:
    assert np.mean([seen.named == drawn.true for drawn, seen in bikes("exchanged")]) > 0.7
    for kind in ("wrong before", "wrong after", "tyre changed by 1-2 %"):
        assert np.mean([seen.right for _, seen in bikes(kind)]) > 0.9


@pytest.mark.validation
def test_the_targets_on_more_bikes() -> None:
    """2 % of 1200 bikes, 1 % of 400, and three standard deviations of a count (Poisson)."""
    assert sum(wrongly_named(bikes(kind, 200)) for kind in KINDS) <= 24
    assert sum(seen.accused for _, seen in bikes("all as stated", 400)) <= 4 + 3 * 2
