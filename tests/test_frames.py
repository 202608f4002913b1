"""Results as tables and in notebooks."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import pandas as pd
import pytest

from gearfit.records.results import Finding
from tests.report import example


def test_every_gear_is_a_row_with_its_interval() -> None:
    analysis = example.two_setups()
    frame = analysis.gears_frame()
    assert list(frame.columns[:8]) == [
        *("setup", "gear", "samples", "passages", "speed_per_1000rpm_mps"),
        *("speed_per_1000rpm_mps_se", "speed_per_1000rpm_mps_lo95", "speed_per_1000rpm_mps_hi95"),
    ]
    assert list(frame["setup"]) == ["before"] * 6 + ["after"] * 6
    for row, gear in zip(frame.itertuples(), (g for s in analysis.setups for g in s.gears), strict=True):
        assert row.gear == gear.gear
        assert row.speed_per_1000rpm_mps_hi95 == gear.speed_per_1000rpm_mps.hi95
        assert row.nominal_overall_ratio == gear.nominal_overall_ratio
    pd.testing.assert_frame_equal(frame.iloc[:6], analysis.setups[0].gears_frame())


def test_what_is_not_known_is_missing_and_columns_are_there_without_rows() -> None:
    unknown = example.without_bike().gears_frame()
    assert unknown[["overall_ratio", "overall_ratio_lo95", "nominal_overall_ratio"]].isna().all(axis=None)
    empty = example.without_gears()
    assert len(empty.gears_frame()) == len(empty.changes_frame()) == len(empty.runs_frame()) == 0
    assert list(empty.gears_frame().columns) == list(unknown.columns)
    assert list(empty.setups[0].speedometer_frame().columns[:3]) == ["setup", "true_mps", "indicated_mps"]


def test_changes_runs_spans_and_pairs() -> None:
    analysis = example.three_setups()
    changes = analysis.changes_frame()
    assert changes.groupby("other_setup", sort=False).size().tolist() == [6, 6]
    compared = analysis.comparisons[0]
    assert compared.changes_frame()["change_percent"].tolist() == [g.change_percent.value for g in compared.gears]
    spans = compared.spans_frame()
    assert spans["reference_n"].tolist() == [span.reference.n for span in compared.timed_spans]
    assert spans["difference_s_lo95"].isna().tolist() == [span.difference_s is None for span in compared.timed_spans]
    assert compared.sprockets_frame()["front"].tolist() == [pair.front for pair in compared.sprocket_candidates]
    assert analysis.runs_frame()["time_s"].tolist() == [r.time_s.value for s in analysis.setups for r in s.timed_spans]


def test_every_sample_is_there() -> None:
    analysis = example.two_setups()
    frame = analysis.samples_frame()
    assert len(frame) == sum(len(result.samples) for result in analysis.setups)
    assert frame["gear"].dtype == "Int64"
    assert "setup" not in analysis.setups[0].samples


@pytest.mark.parametrize("make", example.ALL)
def test_notebooks_show_well_formed_html_with_every_text_escaped(make: object) -> None:
    assert callable(make)
    analysis = make()
    evil = Finding("note", "x", '<script>alert("1")</script> & more')
    html = replace(analysis, findings=(evil,))._repr_html_()
    assert "<script" not in html
    tree = ElementTree.fromstring(f"<div>{html}</div>")
    assert [item.text for item in tree.iter("li")] == [evil.text]
    assert len(list(tree.iter("table"))) == len(analysis.setups) + len(analysis.comparisons)
