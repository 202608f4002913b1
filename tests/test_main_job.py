"""The whole job on the sample folders, held against the truth behind their simulation."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pandas as pd
import pytest

import gearfit
from gearfit.records.results import Analysis, Finding
from tests.simulator.samples import SAMPLE_TRUTHS, SampleTruth

SAMPLES = Path(__file__).parents[1] / "sample_logs"
NAMES = sorted(SAMPLE_TRUTHS)


@pytest.fixture(scope="module")
def analyses() -> dict[str, Analysis]:
    return {name: gearfit.analyse(gearfit.read_folder(SAMPLES / name)) for name in NAMES}


def only(analysis: Analysis, code: str) -> Finding:
    found = [finding for finding in analysis.findings if finding.code == code]
    assert len(found) == 1, [f.code for f in analysis.findings]
    return found[0]


@pytest.mark.parametrize("name", NAMES)
def test_the_change_of_all_gears_is_the_true_one(name: str, analyses: dict[str, Analysis]) -> None:
    change = analyses[name].comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.contains(SAMPLE_TRUTHS[name].change_percent)
    # The sheet is read to 1 mph, and how steadily it was held is estimated from it.
    assert change.hi95 - change.lo95 < (1.8 if name == "motorway-commuter" else 0.3)


@pytest.mark.parametrize("name", NAMES)
def test_every_gear_has_its_true_speed(name: str, analyses: dict[str, Analysis]) -> None:
    truth = SAMPLE_TRUTHS[name]
    for result in analyses[name].setups:
        expected = truth.speed_per_1000rpm_mps[result.setup.name]
        assert [gear.gear for gear in result.gears] == list(range(1, len(expected) + 1))
        for gear, speed in zip(result.gears, expected, strict=True):
            found = gear.speed_per_1000rpm_mps
            assert abs(found.value - speed) < 4 * found.se, (result.setup.name, gear.gear)
            # The sheet's first gear is 18 and 22 mph read to 1 mph: 0.29 mph each, together 1.0 %, and the holding.
            assert found.se < (0.015 if name == "motorway-commuter" else 0.01) * speed
        assert result.in_gear + sum(result.left_out.values()) == len(result.samples)


@pytest.mark.parametrize("name", ["trail-bike", "motorway-commuter"])
def test_the_circumference_is_the_true_one(name: str, analyses: dict[str, Analysis]) -> None:
    for result in analyses[name].setups:
        assert result.circumference is not None
        found = result.circumference.estimate_m
        assert abs(found.value - SAMPLE_TRUTHS[name].circumference_m) < 4 * found.se
        assert found.se < 0.005 * found.value


def test_the_sprockets_are_told_from_the_change(analyses: dict[str, Analysis]) -> None:
    trail = analyses["trail-bike"].comparisons[0].sprocket_candidates[0]
    commuter = analyses["motorway-commuter"].comparisons[0].sprocket_candidates[0]
    assert (trail.front, trail.rear) == (14, 50)
    assert trail.probability > 0.95
    assert (commuter.front, commuter.rear) == (16, 43)


def test_the_lag_is_the_true_one(analyses: dict[str, Analysis]) -> None:
    for name in ("trail-bike", "no-papers"):
        for result in analyses[name].setups:
            lag = result.lag_s
            assert lag is not None
            assert lag.value == pytest.approx(SAMPLE_TRUTHS[name].lag_s, abs=0.03)


def test_the_trail_bike_agrees_and_nothing_is_accused(analyses: dict[str, Analysis]) -> None:
    analysis = analyses["trail-bike"]
    assert only(analysis, "change-agrees").text.endswith("Measured and predicted agree.")
    assert [f for f in analysis.findings if f.severity == "warning"] == []
    assert analysis.findings[0].code == "change-agrees"


def test_the_misread_row_is_pointed_out_and_only_that(analyses: dict[str, Analysis]) -> None:
    analysis = analyses["motorway-commuter"]
    wrong = SAMPLE_TRUTHS["motorway-commuter"].misreading
    assert wrong is not None
    rows = [row for result in analysis.setups for row in result.outlying_rows]
    assert [(row.file, row.row, row.gear, row.engine_rpm) for row in rows] == [
        (wrong.file, wrong.row, wrong.gear, wrong.engine_rpm)
    ]
    assert rows[0].speed_mps - rows[0].expected_mps == pytest.approx(wrong.by_mps, abs=0.5)
    assert only(analysis, "odd-row").text.startswith(f"{wrong.file}, line {wrong.row}: ")


def test_one_run_each_is_no_comparison(analyses: dict[str, Analysis]) -> None:
    analysis = analyses["motorway-commuter"]
    span = analysis.comparisons[0].timed_spans[0]
    assert (span.reference.n, span.other.n, span.difference_s) == (1, 1, None)
    assert "A single run in a setup is no comparison" in only(analysis, "timed-too-few").text


def test_without_a_bike_file_only_what_the_logs_say(analyses: dict[str, Analysis]) -> None:
    analysis = analyses["no-papers"]
    assert analysis.comparisons[0].predicted_change_percent is None
    assert all(result.circumference is None for result in analysis.setups)
    assert all(gear.overall_ratio is None for result in analysis.setups for gear in result.gears)
    assert "15 to 14" in only(analysis, "front-sprocket-guess").text
    only(analysis, "no-bike-file")


def test_the_unit_is_km_per_hour_or_miles() -> None:
    folder = gearfit.read_folder(SAMPLES / "motorway-commuter")
    assert "mph" in only(gearfit.analyse(folder, "mph"), "speeds-at-rpm").text
    assert "km/h" in only(gearfit.analyse(folder, "kmh"), "speeds-at-rpm").text
    assert "mph" in only(gearfit.analyse(folder), "speeds-at-rpm").text, "as its sheets are written"
    with pytest.raises(ValueError, match=r"^speed_unit is 'knot'; allowed are 'kmh' and 'mph'$"):
        gearfit.analyse(folder, "knot")


def test_a_report_has_all_its_files_and_they_agree(tmp_path: Path, analyses: dict[str, Analysis]) -> None:
    analysis = analyses["trail-bike"]
    written = gearfit.write_report(analysis, tmp_path / "report")
    assert sorted(written) == [
        "gears.csv", "report.html", "results.json", "samples_after.csv", "samples_before.csv", "summary.png",
        "summary.svg",
    ]  # fmt: skip
    results = json.loads(written["results.json"].read_text("utf-8"))
    assert results["schema"] == "gearfit-results-1"
    for name in ("before", "after"):
        samples = pd.read_csv(written[f"samples_{name}.csv"])
        assert list(samples.columns) == ["file", "time_s", "speed_mps", "engine_rpm", "gear", "left_out"]
        told = results["setups"][name]["samples"]
        assert len(samples) == told["read"] == told["in_gear"] + sum(told["left_out"].values())
        assert int(samples["gear"].notna().sum()) == told["in_gear"]
        assert (samples["gear"].isna() == samples["left_out"].notna()).all()
        for gear in results["setups"][name]["gears"]:
            assert int((samples["gear"] == gear["gear"]).sum()) == gear["samples"]
    assert results["comparison"]["predicted_change_percent"] == pytest.approx(-4.0)


def test_the_same_folder_gives_the_same_bytes(tmp_path: Path) -> None:
    files = []
    for run in ("one", "two"):
        analysis = gearfit.analyse(gearfit.read_folder(SAMPLES / "motorway-commuter"))
        written = gearfit.write_report(analysis, tmp_path / run)
        files.append({name: path.read_bytes() for name, path in written.items()})
    assert files[0] == files[1]


def test_speeds_a_quarter_higher_make_a_circumference_as_much_larger(tmp_path: Path) -> None:
    """An invariant: v = n C / (60 i) is linear in v."""
    folder = tmp_path / "fast"
    shutil.copytree(SAMPLES / "motorway-commuter", folder, ignore=shutil.ignore_patterns("report"))
    toml = (folder / "bike.toml").read_text("utf-8")
    (folder / "bike.toml").write_text(re.sub(r'size = "[^"]*"', "", toml), "utf-8")
    plain = gearfit.analyse(gearfit.read_folder(folder))
    for sheet in folder.glob("*/holds.csv"):
        table = pd.read_csv(sheet)
        table["speed_mph"] *= 1.25
        table.to_csv(sheet, index=False)
    doubled = gearfit.analyse(gearfit.read_folder(folder))
    for first, second in zip(plain.setups, doubled.setups, strict=True):
        assert first.circumference is not None
        assert second.circumference is not None
        one, two = first.circumference.estimate_m.value, second.circumference.estimate_m.value
        assert two == pytest.approx(1.25 * one, rel=3e-3)  # low gears weigh more: a mph is less of a higher speed


def test_public_names() -> None:
    assert sorted(gearfit.__all__) == sorted(name for name in gearfit.__all__ if hasattr(gearfit, name))
    assert {"read_folder", "analyse", "write_report", "read_log", "read_bike"} <= set(gearfit.__all__)
    assert isinstance(SAMPLE_TRUTHS["trail-bike"], SampleTruth)
