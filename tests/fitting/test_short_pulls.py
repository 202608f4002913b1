"""Short pulls through the gears, as physics: with a stated ladder their gears are found at any lag and rate."""

from __future__ import annotations

from tests.validation.short_pulls import study


def test_gears_of_short_pulls() -> None:
    """Half the samples in clutch, idle or shift; 95 % of pulls are asked for, and no false gear. The study has more."""
    tally = study(range(200, 220), known=True)
    assert sum(tally.right) >= 18
    assert tally.false == 0
    assert len(tally.inside) > 60
    assert sum(tally.inside) >= 0.88 * len(tally.inside)


def test_short_pulls_without_tooth_counts() -> None:
    """Four of five show their gears; none shows one that is not there without a warning."""
    tally = study(range(200, 216), known=False)
    assert sum(tally.right) >= 12
    assert tally.false == 0
    assert sum(tally.inside) >= 0.93 * len(tally.inside) > 20
