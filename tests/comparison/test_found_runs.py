"""Runs with errors of their own, permutations, directions: against scipy.stats and simple arithmetic."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from gearfit.comparison.permutation import permutation_p
from gearfit.comparison.run_means import difference, run_mean, two_ways
from gearfit.comparison.runs_needed import runs_needed
from gearfit.comparison.timed_spans import compare_spans, least_shown
from gearfit.fitting.ratios.quantiles import estimate
from gearfit.records.results import How, TimedSpan


def run(
    time_s: float,
    se_s: float = 0.03,
    how: How = "standing start",
    gears: tuple[int, ...] = (),
    heading_deg: float | None = None,
) -> TimedSpan:
    time = estimate(time_s, se_s, np.inf)
    low = 0.0 if how == "standing start" else 10.0
    return TimedSpan("r.gpx", low, 25.0, 1.0, time, "ride", how, gears, heading_deg=heading_deg)


@pytest.mark.parametrize(("n", "m"), [(3, 3), (4, 5), (8, 8)])
def test_permutations_against_scipy(n: int, m: int) -> None:
    rng = np.random.default_rng([n, m])
    before, after = 6 + 0.2 * rng.standard_normal(n), 5.85 + 0.2 * rng.standard_normal(m)
    wanted = stats.permutation_test(
        (before, after), lambda x, y: abs(np.mean(x) - np.mean(y)), alternative="greater", n_resamples=100_000
    )
    assert permutation_p(before, after) == pytest.approx(wanted.pvalue, abs=1e-12)


def test_three_runs_each_cannot_show_less_than_a_tenth() -> None:
    assert permutation_p(np.array([6.0, 6.1, 6.2]), np.array([5.0, 5.1, 5.2])) == pytest.approx(0.1)
    assert permutation_p(np.arange(12.0), np.arange(12.0)) is None


def test_equal_errors_leave_the_plain_mean() -> None:
    times = np.array([6.1, 6.4, 6.0, 6.3])
    mean = run_mean(times, np.full(4, 0.05))
    assert mean.mean_s == pytest.approx(times.mean())
    assert mean.se_s == pytest.approx(stats.sem(times))


def test_a_coarse_run_counts_less_and_no_mean_is_better_than_its_runs() -> None:
    mean = run_mean(np.array([6.0, 6.02, 6.9]), np.array([0.02, 0.02, 1.0]))
    assert mean.mean_s < 6.2
    alike = run_mean(np.array([6.0, 6.0, 6.0]), np.full(3, 0.3))
    assert alike.se_s == 0.0
    assert alike.least_se_s == pytest.approx(0.3 / 3**0.5)


def test_a_difference_has_welchs_interval_but_none_below_the_runs_own_errors() -> None:
    first, second = np.array([6.0, 6.3, 6.1]), np.array([5.6, 5.9, 5.5])
    wide = difference(run_mean(first, np.full(3, 0.01)), run_mean(second, np.full(3, 0.01)))
    welch = stats.ttest_ind(second, first, equal_var=False).confidence_interval()
    assert wide is not None
    assert (wide.lo95, wide.hi95) == pytest.approx((welch.low, welch.high), rel=1e-6)
    alike = difference(run_mean(np.full(3, 6.0), np.full(3, 0.3)), run_mean(np.full(3, 5.0), np.full(3, 0.3)))
    assert alike is not None
    assert alike.hi95 - alike.value == pytest.approx(stats.norm.ppf(0.975) * 0.3 * (2 / 3) ** 0.5)


def test_the_least_difference_is_what_the_runs_needed_would_show() -> None:
    """Two setups of n runs, scatter s: the least difference d asks for n runs again."""
    before, after = (run_mean(np.array([-0.1, 0.0, 0.1, 0.1, -0.1]) + mean, np.zeros(5)) for mean in (6.0, 5.0))
    gap = difference(before, after)
    assert gap is not None
    least = least_shown(gap, before, after)
    assert runs_needed(least * 1.0001, 0.1) == 5
    assert runs_needed(least * 0.93, 0.1) == 6


def test_only_runs_ridden_alike_are_compared() -> None:
    before = [run(5.0, how="roll-on", gears=(4,)), run(6.0, how="roll-on", gears=(5,)), run(4.0), run(4.1)]
    after = [run(4.9, how="roll-on", gears=(4,)), run(3.9), run(3.8)]
    found = [(c.from_mps, c.how, c.gears, c.reference.n, c.other.n) for c in compare_spans(before, after)]
    assert found == [(0.0, "standing start", (), 2, 2), (10.0, "roll-on", (4,), 1, 1)]


def through(time_s: float, *gears: int) -> TimedSpan:
    return run(time_s, how="through the gears", gears=gears)


def test_runs_through_the_gears_are_compared_where_they_begin_in_the_same_one() -> None:
    before = [through(4.4, 2, 3, 4), through(5.9, 4, 5), through(3.9, 2, 3), through(5.8, 4, 5), through(3.0)]
    after = [through(4.0, 2, 3), through(6.5, 4, 5), through(3.1), through(3.2), through(5.0, 3, 4)]
    spans = compare_spans(before, after)
    assert [(c.gears, c.reference.n, c.other.n) for c in spans] == [((), 1, 2), ((2,), 2, 1), ((4,), 2, 1)]
    assert [c.reference.mean_s for c in spans] == pytest.approx([3.0, 4.15, 5.85])


def test_the_stopwatch_stands_in_where_a_setup_has_no_ride() -> None:
    hand = TimedSpan("t.csv", 0.0, 25.0, None, estimate(4.4, 0.1, np.inf))
    (mixed,) = compare_spans([run(4.0), run(4.1)], [hand, hand])
    assert mixed.kind == "ride and stopwatch"
    assert mixed.other.own_se_s == pytest.approx(0.1)
    (alike,) = compare_spans([run(4.0), run(4.1), hand], [run(4.0), run(4.2)])
    assert (alike.kind, alike.reference.n) == ("ride", 2)


def test_the_prediction_says_how_many_runs_would_settle_it() -> None:
    (span,) = compare_spans([run(4.0), run(4.2)], [run(4.1), run(3.9)], lambda _: estimate(-0.15, 0.05, np.inf))
    assert span.predicted_difference_s is not None
    assert span.runs_for_prediction == runs_needed(-0.15, 2**0.5 * 0.1)


def test_two_ways() -> None:
    """Times 4 and 6 s: the two-way mean is 2 / (1/4 + 1/6) = 4.8 s, as that of speeds."""
    runs = [run(4.0, heading_deg=80.0), run(4.0, heading_deg=85.0), run(6.0, heading_deg=262.0)]
    there, back, mean_s, gap = two_ways(runs)
    assert (there, back, gap) == (2, 1, None)
    assert mean_s == pytest.approx(4.8)
    there, back, _, gap = two_ways([*runs, run(6.2, heading_deg=255.0)])
    assert gap is not None
    assert gap.value == pytest.approx(4.0 - 6.1)
    assert two_ways([run(4.0)]) == (0, 0, None, None)


def test_corrected_times_are_compared_only_where_every_run_has_one() -> None:
    times, corrected_s = ([6.1, 6.4, 6.0], [5.7, 5.9, 5.6]), ([5.8, 6.1, 5.75], [5.6, 5.85, 5.5])
    before, after = (
        [replace(run(t), corrected_time_s=estimate(c, 0.03, np.inf)) for t, c in zip(*pair, strict=True)]
        for pair in zip(times, corrected_s, strict=True)
    )
    (span,) = compare_spans(before, after)
    found = span.corrected_difference_s
    assert found is not None
    assert found.value == pytest.approx(np.mean(corrected_s[1]) - np.mean(corrected_s[0]))
    welch = stats.ttest_ind(corrected_s[1], corrected_s[0], equal_var=False).confidence_interval()
    assert (found.lo95, found.hi95) == pytest.approx((welch.low, welch.high))
    (partly,) = compare_spans(before, [*after[1:], run(5.7)])
    assert partly.difference_s is not None
    assert partly.corrected_difference_s is None


N, S = 10.0, 190.0


@pytest.mark.parametrize(
    ("before", "after", "counts"),
    [
        ([N, N, N, N], [S, S, S, S], (4, 0, 0, 4)),
        ([N, N, N, N, S], [S, S, S, S, N], (4, 1, 1, 4)),
        ([N, S, S, S, S], [S, S, S, S, N], (1, 4, 1, 4)),
        ([N, N], [350.0, 95.0], (2, 0, 2, 0)),
    ],
)
def test_both_setups_are_sorted_by_one_heading(
    before: list[float], after: list[float], counts: tuple[int, int, int, int]
) -> None:
    first, second = ([run(5.0 + 0.05 * k, heading_deg=way) for k, way in enumerate(ways)] for ways in (before, after))
    (span,) = compare_spans(first, second)
    assert (span.reference.there, span.reference.back, span.other.there, span.other.back) == counts


def test_the_reference_heading_is_the_first_known_one() -> None:
    before = [run(5.0), run(5.1, heading_deg=S), run(5.2, heading_deg=N)]
    (span,) = compare_spans(before, [run(5.0, heading_deg=N), run(5.1, heading_deg=N)])
    assert (span.reference.there, span.reference.back, span.other.there, span.other.back) == (1, 1, 0, 2)
    assert span.other.two_way_mean_s is None
