"""The data on the lines of the figures, not their pixels."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure

from gearfit.records.results import Analysis, Finding, TimedSpan
from gearfit.report.figures import (
    change_per_gear,
    ratio_histogram,
    ratios_against_nominal,
    speed_against_rpm,
    timed_runs,
)
from gearfit.report.figures import drawn as figures
from gearfit.report.figures.style import drawable, in_lines
from gearfit.units import MPS_PER_KMH
from tests.report import example


def drawn(figure: Figure | None) -> Figure:
    assert figure is not None
    return figure


def line(figure: Figure, panel: int, label: str) -> Any:
    """The one line with this label."""
    found = [known for known in figure.axes[panel].get_lines() if known.get_label() == label]
    assert len(found) == 1, (label, [known.get_label() for known in figure.axes[panel].get_lines()])
    return found[0]


def test_every_sample_within_the_axes_is_drawn() -> None:
    analysis = example.two_setups()
    figure = drawn(speed_against_rpm.draw(analysis))
    for panel, result in enumerate(analysis.setups):
        table = result.samples
        chosen = table["gear"].notna()
        np.testing.assert_array_equal(line(figure, panel, "in a gear").get_xdata(), table.loc[chosen, "engine_rpm"])
        np.testing.assert_allclose(
            line(figure, panel, "in a gear").get_ydata(), table.loc[chosen, "speed_mps"] * 3.6, rtol=1e-12
        )
        assert len(line(figure, panel, "left out").get_xdata()) == (~chosen).sum()
    ends = {ax.get_xlim() + ax.get_ylim() for ax in figure.axes}
    assert len(ends) == 1


def test_fitted_and_predicted_lines() -> None:
    analysis = example.two_setups()
    figure = drawn(speed_against_rpm.draw(analysis))
    before, after = analysis.setups
    for mine, reference in zip(after.gears, before.gears, strict=True):
        x, y = line(figure, 1, f"fitted {mine.gear}").get_data()
        assert (x[0], y[0]) == (0, 0)
        assert y[1] / x[1] == pytest.approx(mine.speed_per_1000rpm_mps.value * 3.6 / 1000)
        x, y = line(figure, 1, f"predicted {mine.gear}").get_data()
        assert y[1] / x[1] == pytest.approx(reference.speed_per_1000rpm_mps.value * 3.6 / 1000 * 13 / 14)
    labels = [str(known.get_label()) for known in figure.axes[0].get_lines()]
    assert not any(label.startswith("predicted") for label in labels)


def test_the_outlying_row_is_ringed() -> None:
    analysis = example.sheet_only()
    figure = drawn(speed_against_rpm.draw(analysis))
    ring = line(figure, 1, "row 4")
    assert ring.get_xdata()[0] == 5000.0
    assert ring.get_ydata()[0] == pytest.approx(17.9 * 3600 / 1609.344)


def test_samples_beyond_the_edges_are_counted_in_the_caption() -> None:
    analysis = example.two_setups()
    rpm_end, speed_end = speed_against_rpm.axis_ends(analysis)
    beyond = sum(
        int(((r.samples["engine_rpm"] > rpm_end) | (r.samples["speed_mps"] * 3.6 > speed_end)).sum())
        for r in analysis.setups
    )
    assert beyond > 0
    assert speed_against_rpm.caption(analysis).endswith(f" {beyond} left-out samples beyond the edges.")


def test_histogram_counts_and_marks() -> None:
    analysis = example.two_setups()
    figure = drawn(ratio_histogram.draw(analysis))
    for panel, result in enumerate(analysis.setups):
        ax = figure.axes[panel]
        for gear in result.gears:
            at = line(figure, panel, f"gear {gear.gear}").get_xdata()[0]
            # rpm per km/h of the tooth counts: 60 i / C turns a minute for each m/s
            expected = 60 * example.ratios((14, 13)[panel])[gear.gear - 1] / example.CIRCUMFERENCE_M * MPS_PER_KMH
            assert at == pytest.approx(expected, rel=2e-3)
        every, geared = (sum(patch.get_data().values) for patch in ax.patches[:2])  # type: ignore[attr-defined]
        assert geared == result.in_gear
        assert result.in_gear < every <= len(result.samples)


def test_change_per_gear() -> None:
    analysis = example.two_setups()
    comparison = analysis.comparisons[0]
    figure = drawn(change_per_gear.draw(analysis))
    ax = figure.axes[0]
    for bar, change in zip(ax.containers, comparison.gears, strict=True):
        marks, _, (stems,) = bar.lines  # type: ignore[attr-defined]
        assert (marks.get_xdata()[0], marks.get_ydata()[0]) == (change.gear, change.change_percent.value)
        ends = stems.get_segments()[0][:, 1]
        np.testing.assert_allclose(ends, [change.change_percent.lo95, change.change_percent.hi95])
        assert marks.get_marker() == ("X" if change.gear == 2 else "D")
    assert [text.get_text() for text in ax.texts] == ["out of line"]
    assert line(figure, 0, "tooth counts").get_ydata()[0] == pytest.approx(100 * (13 / 14 - 1))
    assert comparison.all_gears_change_percent is not None
    assert line(figure, 0, "all gears").get_ydata()[0] == comparison.all_gears_change_percent.value


def test_gears_that_contradict_each_other_are_not_said_to_miss_the_prediction() -> None:
    """Gears are judged against each other: that none is consistent says nothing of what the teeth predict."""
    analysis = example.two_setups()
    comparison = analysis.comparisons[0]
    both = tuple(replace(change, consistent=False) for change in comparison.gears[:2])
    said = change_per_gear.said(analysis, replace(comparison, gears=both))
    assert said.startswith("after against before: no gear agrees with the others; they moved by ")


def test_all_setups_stand_in_one_picture_to_one_scale() -> None:
    analysis = example.three_setups()
    figure = drawn(change_per_gear.draw(analysis))
    assert len(figure.axes) == len(analysis.comparisons) == 2
    for ax, comparison, front in zip(figure.axes, analysis.comparisons, (13, 15), strict=True):
        marks = [float(bar.lines[0].get_ydata()[0]) for bar in ax.containers]  # type: ignore[attr-defined]
        assert marks == [change.change_percent.value for change in comparison.gears]
        (dashed,) = [line for line in ax.get_lines() if line.get_label() == "tooth counts"]
        assert np.asarray(dashed.get_ydata())[0] == pytest.approx(100 * (front / 14 - 1))
    heights = [float(np.ptp(ax.get_ylim())) for ax in figure.axes]
    assert heights[0] == pytest.approx(heights[1])
    assert figure.axes[0].get_title(loc="left") == "after: all gears −6.93\xa0%,\ntooth counts −7.14\xa0%"


def test_a_change_without_interval_has_no_bar() -> None:
    figure = drawn(change_per_gear.draw(example.three_setups()))
    first, second = figure.axes[1].containers[:2]
    assert (first.has_yerr, second.has_yerr) == (False, True)  # type: ignore[attr-defined]


def test_without_prediction_the_axis_keeps_to_the_data() -> None:
    analysis = example.without_bike()
    lo, hi = drawn(change_per_gear.draw(analysis)).axes[0].get_ylim()
    ends = [
        end
        for change in analysis.comparisons[0].gears
        for end in (change.change_percent.lo95, change.change_percent.hi95)
    ]
    assert lo < min(ends)
    assert max(ends) < hi < 0


def test_deviations() -> None:
    analysis = example.two_setups()
    figure = drawn(ratios_against_nominal.draw(analysis))
    drawn_values = [float(bar.lines[0].get_ydata()[0]) for bar in figure.axes[0].containers]  # type: ignore[attr-defined]
    expected = [g.deviation_percent.value for r in analysis.setups for g in r.gears if g.deviation_percent]
    assert drawn_values == expected


def times_of(figure: Figure, strip: int, setup: str) -> list[float]:
    """Where the runs of a setup stand, each a mark of its own."""
    begins = f"tip:{setup}, run "
    marks = [known for known in figure.axes[strip].get_lines() if (known.get_gid() or "").startswith(begins)]
    return [float(np.asarray(mark.get_xdata())[0]) for mark in marks]


def test_timed_runs_and_means() -> None:
    analysis = example.two_setups()
    figure = drawn(timed_runs.draw(analysis))
    titles = [ax.get_title(loc="left") for ax in figure.axes]
    assert titles == ["0\xa0to\xa0100\xa0km/h, by stopwatch", "60\xa0to\xa0100\xa0km/h, by stopwatch"]
    assert times_of(figure, 0, "before") == [6.31, 6.55, 6.22, 6.6]
    assert line(figure, 0, "mean after").get_xdata()[0] == pytest.approx((6.01 + 5.83 + 6.36 + 6.0) / 4)
    other = "37.3\xa0to\xa062.1\xa0mph\xa0(60\xa0to\xa0100\xa0km/h),\nby stopwatch"  # 60 and 100 km/h over 1.609344
    assert [text.get_text() for text in figure.axes[1].texts] == [other, "one run", "one run"]


def test_a_strip_holds_only_runs_ridden_alike() -> None:
    analysis = example.found_runs()
    lonely = TimedSpan("ride.gpx", 60 / 3.6, 100 / 3.6, 90.0, example.estimate(9.0, 0.1), "ride", "roll-on", (5,))
    parts = [replace(lonely, how="through the gears", gears=gears, from_rest=True) for gears in ((2, 3), (3, 4))]
    first = replace(analysis.setups[0], timed_spans=(*analysis.setups[0].timed_spans, lonely, *parts))
    analysis = replace(analysis, setups=(first, analysis.setups[1]))
    figure = drawn(timed_runs.draw(analysis))
    titles = [" ".join(ax.get_title(loc="left").split()) for ax in figure.axes]
    assert titles == [
        "0 to 100 km/h, standing start",
        "60 to 100 km/h in third gear",
        "60 to 100 km/h, through the gears from second gear",
        "60 to 100 km/h, by stopwatch",
        "60 to 100 km/h in fifth gear",
        "60 to 100 km/h, through the gears",  # parts of starts, whatever gear they begin in
    ]
    # 60 to 100 km/h: two runs of a manner in either setup, 3.9 and 4.1 s, and 0.3 s quicker; their mean lies among them
    for strip in (1, 2, 3):
        assert sorted(times_of(figure, strip, "before")) == pytest.approx([3.9, 4.1])
        assert line(figure, strip, "mean after").get_xdata()[0] == pytest.approx(3.7)
    # what nothing was compared with has a strip and no mean
    assert times_of(figure, 4, "before") == [9.0]
    assert not [known for known in figure.axes[4].get_lines() if str(known.get_label()).startswith("mean")]


@pytest.mark.parametrize(
    ("make", "names"),
    [
        (
            example.two_setups,
            ["change-per-gear", "speed-against-rpm", "ratio-histogram", "ratios-against-nominal", "timed-runs"],
        ),
        (example.one_setup, ["speed-against-rpm", "ratio-histogram", "ratios-against-nominal", "timed-runs"]),
        (example.without_bike, ["change-per-gear", "speed-against-rpm", "ratio-histogram"]),
        (example.without_gears, ["speed-against-rpm", "ratio-histogram"]),
        (example.timed_only, ["timed-runs"]),
    ],
)
def test_a_figure_without_data_is_left_out(make: Callable[[], Analysis], names: list[str]) -> None:
    analysis = make()
    shown = [kind.name for kind in figures.KINDS if kind.draw(analysis) is not None]
    assert shown == names


def test_words_for_those_who_cannot_see_state_what_is_found() -> None:
    analysis = example.two_setups()
    assert change_per_gear.alt(analysis) == (
        "after against before: each of the other gears moved by −7.2 to −7.1\xa0%, all that agree together by "
        "−6.93\xa0% (−7.15 to −6.72); that is in line with the −7.14\xa0% that 13/43 instead of 14/43 teeth predict; "
        "2nd gear is out of line: −5.24\xa0% (−5.56 to −4.93)."
    )
    doubted = replace(analysis, findings=(Finding("warning", "change-disagrees", "", "after"),))
    assert "; that is not the −7.14\xa0% that" in change_per_gear.alt(doubted)
    assert speed_against_rpm.alt(analysis).startswith(
        "before (14/43): the samples lie on 6 straight lines, from 4.7 km/h per 1000 rpm in 1st gear to 13.0 in 6th. "
        "after (13/43): the samples lie on 6 straight lines, from 4.4 km/h per 1000 rpm in 1st gear to 12.0 in 6th, "
        "where the tooth counts predict them but for 2nd gear."
    )
    assert ratio_histogram.alt(example.without_gears()).startswith("before (14/43): no separate heaps, so no gears.")
    assert ratios_against_nominal.alt(analysis).startswith(
        "before (14/43): every gear agrees with its tooth counts to within −0.1 to +0.1\xa0%."
    )
    assert timed_runs.alt(analysis).startswith(
        "0\xa0to\xa0100\xa0km/h, by stopwatch: after takes 0.37 s less than before; before 4 runs of 6.22 to 6.60 s; "
        "after 4 runs of 5.83 to 6.36 s. 60\xa0to\xa0100\xa0km/h, by stopwatch: after cannot be compared from one run "
        "with before;"
    )


def test_characters_that_the_font_lacks_and_control_characters() -> None:
    assert drawable("Ωmega 山\n€") == "Ωmega ? €"
    assert drawable("e\N{COMBINING ACUTE ACCENT}") == "é"


def test_long_names_wrap() -> None:
    assert in_lines("motorway set with the larger front sprocket (15/43)", 2.7).count("\n") == 2
    assert math.isclose(len(max(in_lines("x" * 200, 2.7).split("\n"), key=len)), 23)
