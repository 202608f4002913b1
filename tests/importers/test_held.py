"""Which rows of a log measured anew: made logs whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.importers.text.held import polling_period, refreshed


def ride_kmh(rows: int, row_s: float, seed: int) -> NDArray[np.float64]:
    """A smooth speed with pulls, holds and two stops."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(rows) * row_s
    speed = 60 + 40 * np.sin(time_s / 17) + 12 * np.sin(time_s / 5.3 + rng.uniform(0, 6))
    speed[rows // 3 : rows // 3 + 150] = 0.0
    above: NDArray[np.float64] = np.maximum(speed, 0.0)
    return above


@pytest.mark.parametrize("period", [2, 4, 10])
@pytest.mark.parametrize("first", [0, 1, 3])
def test_polled_in_turn(period: int, first: int) -> None:
    rows = 600 * period
    truth = np.zeros(rows, dtype=bool)
    truth[first::period] = True
    measured = np.round(ride_kmh(rows, 1.0 / period, 1))
    values = np.full(rows, np.nan)
    values[first:] = measured[first::period].repeat(period)[: rows - first]
    found = refreshed(values, 1.0)
    assert np.array_equal(found, truth)


def test_polled_in_turn_with_a_phase_that_slips() -> None:
    """Single cycles of 8 or 9 rows among those of 10: every row of change is found, nearly every refresh too."""
    rng = np.random.default_rng(2)
    cycles = rng.choice([10, 9, 8], size=800, p=[0.97, 0.02, 0.01])
    rows = np.cumsum(np.concatenate(([3], cycles)))
    measured = np.round(ride_kmh(rows[-1] + 10, 0.1, 2))
    values = np.full(rows[-1] + 10, np.nan)
    for row, until in zip(rows, [*rows[1:], values.size], strict=True):
        values[row:until] = measured[row]
    found = np.flatnonzero(refreshed(values, 1.0))
    changes = np.flatnonzero(np.diff(values[3:]) != 0) + 4
    assert np.isin(changes, found).all()
    assert np.isin(found, rows).mean() > 0.93
    assert abs(found.size - rows.size) < 0.02 * rows.size


def test_coarse_values_in_a_fine_log_all_count() -> None:
    values = np.round(ride_kmh(6000, 0.1, 3))
    assert refreshed(values, 1.0).all()


def test_steady_acceleration_in_a_fine_log_is_no_polling() -> None:
    """One step every three rows, exactly: the values change of themselves."""
    values = np.repeat(np.arange(100.0), 3)
    assert refreshed(values, 1.0).all()


def test_fine_values_in_a_fine_log_all_count() -> None:
    values = ride_kmh(3000, 0.1, 4) + np.random.default_rng(4).normal(0, 0.3, 3000)
    assert refreshed(np.round(values, 2), 0.01).all()


def test_a_slow_receiver_without_a_steady_period_counts_only_where_it_changes() -> None:
    rng = np.random.default_rng(5)
    lengths = rng.integers(4, 20, size=300)
    measured = np.round(30 + rng.uniform(1, 9, 300).cumsum() % 40, 2)
    values = np.repeat(measured, lengths)
    truth = np.zeros(values.size, dtype=bool)
    truth[np.cumsum(lengths)[:-1]] = True
    found = refreshed(values, 0.01)
    assert np.array_equal(found, truth)


def test_one_channel_a_row_counts_where_a_cell_is_filled() -> None:
    values = np.full(300, np.nan)
    values[::3] = np.arange(100.0)
    assert np.array_equal(refreshed(values, 1.0), np.isfinite(values))


def test_an_empty_channel_is_never_fresh() -> None:
    assert not refreshed(np.full(50, np.nan), None).any()


def test_a_channel_that_never_changes_decides_nothing() -> None:
    assert refreshed(np.zeros(50), 1.0).all()


def test_period_of_rows_without_a_period() -> None:
    changes = np.cumsum(np.random.default_rng(6).integers(2, 40, size=200))
    assert polling_period(changes) is None
