"""Which gear when: made-up sequences with a known path."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.fitting.which_gear.gear_path import _best_states, _pieces, most_likely_path
from gearfit.fitting.which_gear.passage import passages
from tests.fitting.simulated import MACHINES, ridden
from tests.simulator.recorder import Logger

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CENTRES = np.array([6.2, 5.8, 5.5, 5.25])
STEP_S = 0.1
SD = 0.01


def every(n: int) -> FloatArray:
    return np.asarray(STEP_S * np.arange(n), dtype=np.float64)


def sequence(parts: list[tuple[int, float]], seed: int = 0) -> tuple[FloatArray, FloatArray, FloatArray, IntArray]:
    """Times, ln ratios with noise, errors and true gears of (gear position or -1, seconds) one after the other."""
    rng = np.random.default_rng(seed)
    gear = np.concatenate([np.full(round(seconds / STEP_S), g) for g, seconds in parts])
    level = np.where(gear >= 0, CENTRES[np.clip(gear, 0, None)], rng.uniform(5.0, 6.8, gear.size))
    return every(gear.size), level + SD * rng.standard_normal(gear.size), np.full(gear.size, SD), gear


RIDE = [(-1, 3.0), (0, 4.0), (-1, 0.5), (1, 5.0), (-1, 0.5), (2, 8.0), (-1, 0.4), (3, 20.0), (-1, 2.0), (1, 3.0)]


@pytest.mark.parametrize("seed", range(5))
def test_a_known_path_is_recovered(seed: int) -> None:
    time_s, log_ratio, sd, gear = sequence(RIDE, seed)
    path = most_likely_path(time_s, log_ratio, sd, CENTRES)
    assert np.mean(path == gear) > 0.985
    engaged = path[np.flatnonzero(np.diff(path, prepend=-1))]
    assert engaged[engaged >= 0].tolist() == [0, 1, 2, 3, 1]


def test_crossing_a_gear_is_not_riding_in_it() -> None:
    """A slipping clutch: the ratio falls steadily past all gears in 4 s and settles in the last."""
    slide = np.linspace(6.8, CENTRES[3], 40)
    log_ratio = np.concatenate([slide, np.full(60, CENTRES[3])])
    path = most_likely_path(every(100), log_ratio, np.full(100, SD), CENTRES)
    assert set(path[:36].tolist()) == {-1}
    assert set(path[42:].tolist()) == {3}


def test_one_wild_sample_does_not_end_a_passage() -> None:
    time_s, log_ratio, sd, _ = sequence([(2, 10.0)])
    log_ratio[50] += 0.4
    path = most_likely_path(time_s, log_ratio, sd, CENTRES)
    assert passages(time_s, path).max() <= 1
    assert np.mean(path == 2) >= 0.98


def test_noise_alone_is_no_gear() -> None:
    rng = np.random.default_rng(2)
    n = 600
    log_ratio = rng.uniform(5.0, 6.8, n)
    assert np.mean(most_likely_path(every(n), log_ratio, np.full(n, SD), CENTRES) >= 0) < 0.05


def test_engagements_too_short_to_be_a_gear_are_left_out() -> None:
    time_s, log_ratio, sd, _ = sequence([(0, 5.0), (-1, 1.0), (2, 0.2), (-1, 1.0), (1, 5.0)])
    path = most_likely_path(time_s, log_ratio, sd, CENTRES)
    assert 2 not in path
    assert {0, 1} <= set(path.tolist())


def test_slow_samples_are_enough() -> None:
    """One sample a second, as many receivers write them."""
    gear = np.repeat([0, 1, 2, 3], 12)
    rng = np.random.default_rng(6)
    path = most_likely_path(np.arange(48.0), CENTRES[gear] + SD * rng.standard_normal(48), np.full(48, SD), CENTRES)
    inside = path >= 0
    assert inside.mean() > 0.9
    assert np.all(path[inside] == gear[inside])


def test_no_samples() -> None:
    none = np.empty(0)
    assert most_likely_path(none, none, none, CENTRES).size == 0


def test_passages_are_numbered() -> None:
    time_s = np.arange(8.0)
    path = np.array([-1, 0, 0, -1, 0, 1, 1, -1])
    assert passages(time_s, path).tolist() == [-1, 0, 0, -1, 1, 2, 2, -1]


def test_a_pause_splits_a_passage() -> None:
    time_s = np.array([0.0, 1, 2, 2 + 3.0, 9.0])
    assert passages(time_s, np.zeros(5, dtype=np.int64)).tolist() == [0, 0, 0, 0, 1]


def plain_viterbi(
    emission: NDArray[np.float64], leave: NDArray[np.float64], enter: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Viterbi's algorithm as the textbooks have it, over the whole series: states 0 to G - 1 are gears, G is none."""
    n, gears = emission.shape
    start = -np.log(gears + 1.0)
    score, came = np.append(emission[0] + start, start), np.zeros((n, gears + 1), dtype=np.int64)
    for i in range(1, n):
        move = np.full((gears + 1, gears + 1), -np.inf)
        np.fill_diagonal(move, 0.0)
        move[gears, :gears], move[:gears, gears] = enter[i], leave[i]
        reached = score[:, None] + move
        came[i] = reached.argmax(axis=0)
        score = reached.max(axis=0) + np.append(emission[i], 0.0)
    path = [int(score.argmax())]
    for i in range(n - 1, 0, -1):
        path.append(int(came[i, path[-1]]))
    whole = np.array(path[::-1])
    return np.where(whole == gears, -1, whole)


@pytest.mark.parametrize("n", [1, 2, 60, 61, 599, 600, 2000])
@pytest.mark.parametrize("size", [60, 130, 2000])
def test_pieces_from_both_ends_are_the_textbook_algorithm(n: int, size: int) -> None:
    rng = np.random.default_rng(8)
    true = np.repeat(rng.integers(-1, 4, 200), 10)[:n]
    emission = rng.normal(-1.0, 1.0, (n, 4)) + 2.0 * (true[:, None] == np.arange(4))
    leave, enter = np.log(rng.uniform(0.01, 0.2, n)), np.log(rng.uniform(0.05, 0.2, n))
    expected = plain_viterbi(emission, leave, enter)
    pieces = np.stack([_pieces(column, size) for column in emission.T], axis=1)
    assert (_best_states(pieces, leave, enter, 60).T.reshape(-1)[:n] == expected).all()
    assert n < 100 or 0.1 < np.mean(expected == -1) < 0.9


def test_pieces_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """A five-minute ride in pieces of 8 s, 500 samples at once, all at once, and in one piece: the same path."""
    ride = ridden(MACHINES[0], 3, Logger())
    (found,) = ride.fit(teeth_known=True).streams
    o, sd = found.observed, np.hypot(found.observed.log_ratio_sd, 0.004)
    pieces = most_likely_path(o.time_s, o.log_ratio, sd, ride.true_level)
    assert o.time_s.size > 2000
    monkeypatch.setattr("gearfit.fitting.which_gear.gear_path._AT_ONCE", 500)
    assert (most_likely_path(o.time_s, o.log_ratio, sd, ride.true_level) == pieces).all()
    monkeypatch.setattr("gearfit.fitting.which_gear.gear_path._LEAD_S", 600.0)
    assert (most_likely_path(o.time_s, o.log_ratio, sd, ride.true_level) == pieces).all()
