"""Stopwatch times that cannot be right beside the others."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearfit import analyse, read_folder
from gearfit.records.results import Analysis

HEAD = "from_kmh,to_kmh,time_s\n"


def analysed(folder: Path, before: str, after: str) -> Analysis:
    """Runs of an invented bike, written down by hand."""
    (folder / "bike.toml").write_text("[setups.before]\n[setups.after]\n")
    for name, rows in (("before", before), ("after", after)):
        (folder / name).mkdir()
        (folder / name / "timed.csv").write_text(HEAD + rows)
    return analyse(read_folder(folder))


def said(found: Analysis, code: str) -> list[str]:
    """Texts of the findings of a code."""
    return [finding.text for finding in found.findings if finding.code == code]


def test_a_decimal_point_forgotten_is_named_and_does_not_count(tmp_path: Path) -> None:
    """65 for 6.5 s made the mean of before 21 s."""
    found = analysed(tmp_path, "0,80,6.4\n0,80,6.6\n0,80,65\n0,80,6.5\n", "0,80,6.0\n0,80,6.1\n0,80,5.9\n")
    (span,) = found.comparisons[0].timed_spans
    assert (span.reference.n, span.other.n) == (3, 3)
    assert span.reference.mean_s == pytest.approx(6.5)
    (text,) = said(found, "run-misread")
    assert "before/timed.csv" in text
    assert "65 s cannot be right beside the other times" in text
    assert "(6.5 s?)" in text


def test_of_two_times_nobody_can_tell_which_is_wrong(tmp_path: Path) -> None:
    """One run a setup: neither counts."""
    found = analysed(tmp_path, "0,80,65\n", "0,80,6.0\n")
    assert not found.comparisons[0].timed_spans
    assert len(said(found, "run-misread")) == 2


def test_times_that_a_rider_may_take_are_kept(tmp_path: Path) -> None:
    """Twice as long, shut off late or up a hill, is no slip of the pen."""
    found = analysed(tmp_path, "0,80,6.4\n0,80,6.6\n0,80,12\n", "0,80,6.0\n0,80,6.1\n")
    assert found.comparisons[0].timed_spans[0].reference.n == 3
    assert not said(found, "run-misread")


def test_spans_timed_in_one_setup_alone_are_named(tmp_path: Path) -> None:
    """0 to 60 after and 0 to 80 before compare nothing, and nobody was told."""
    found = analysed(tmp_path, "0,80,6.4\n0,80,6.6\n", "0,60,4.0\n0,60,4.1\n")
    (text,) = said(found, "run-span-unshared")
    assert "before" in text
    assert "after" in text
    assert "Time the same span in both" in text
