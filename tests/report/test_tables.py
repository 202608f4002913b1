"""gears.csv and samples_<setup>.csv."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from gearfit.report.files.tables import gears_frame, safe_cell, sample_file_names, samples_text, write_gears
from tests.report import example


def test_samples_are_all_there_in_order() -> None:
    result = example.one_setup().setups[0]
    table = pd.read_csv(
        StringIO(samples_text(result)), keep_default_na=False, na_values={"speed_mps": "", "engine_rpm": ""}
    )
    assert list(table.columns) == ["file", "time_s", "speed_mps", "engine_rpm", "gear", "left_out"]
    assert len(table) == len(result.samples)
    np.testing.assert_allclose(table["speed_mps"], result.samples["speed_mps"], rtol=1e-8)
    np.testing.assert_allclose(table["time_s"].astype(float), result.samples["time_s"], rtol=1e-8)
    in_gear = result.samples["gear"].notna().to_numpy()
    assert (table.loc[in_gear, "left_out"] == "").all()
    assert (table.loc[~in_gear, "gear"] == "").all()
    assert table.loc[in_gear, "gear"].tolist() == [str(gear) for gear in result.samples["gear"].dropna()]
    assert set(table.loc[~in_gear, "left_out"]) == {"no engine speed", "clutch in, shifting or wheelspin"}


def test_time_is_empty_for_sheets() -> None:
    second_line = samples_text(example.sheet_only().setups[0]).splitlines()[1]
    assert second_line.startswith("morning.gpx,,")


def test_the_frame_handed_in_stays_as_it_was() -> None:
    result = example.nasty_names().setups[0]
    kept = result.samples.copy(deep=True)
    samples_text(result)
    pd.testing.assert_frame_equal(result.samples, kept)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_can_run_as_a_formula(start: str) -> None:
    assert safe_cell(f"{start}1+1") == f"'{start}1+1"


def test_other_cells_stay() -> None:
    assert [safe_cell(text) for text in ("", "ride.gpx", "a=b", " =1")] == ["", "ride.gpx", "a=b", " =1"]


def test_file_names_with_commas_quotes_and_formulas() -> None:
    files = pd.read_csv(StringIO(samples_text(example.nasty_names().setups[0])))["file"]
    assert files[5] == 'a,b"c.csv'
    assert files[0] == "'=HYPERLINK(<script>alert(1)</script>)"


def test_sample_files_have_safe_and_different_names() -> None:
    assert sample_file_names(["before", "a/b", "a b", "A_B", "été"]) == [
        "samples_before.csv",
        "samples_a_b.csv",
        "samples_a_b_2.csv",
        "samples_A_B_3.csv",
        "samples_été.csv",
    ]


def test_gears_one_row_per_setup_and_gear(tmp_path: Path) -> None:
    analysis = example.two_setups()
    write_gears(analysis, tmp_path / "gears.csv")
    table = pd.read_csv(tmp_path / "gears.csv")
    assert table["setup"].tolist() == ["before"] * 6 + ["after"] * 6
    assert table["gear"].tolist() == [*range(1, 7)] * 2
    assert list(table.columns) == list(gears_frame(analysis).columns)
    # 1 km/h = 1/3.6 m/s; 1 mph = 1609.344 m/h (international mile of 1959)
    np.testing.assert_allclose(table["speed_per_1000rpm_kmh"], 3.6 * table["speed_per_1000rpm_mps"], rtol=1e-7)
    miles = table["speed_per_1000rpm_mps_lo95"] * 3600 / 1609.344
    np.testing.assert_allclose(table["speed_per_1000rpm_mph_lo95"], miles, rtol=1e-7)
    assert table["change_percent"].isna().tolist() == [True] * 6 + [False] * 6
    assert table["change_consistent"].tolist()[6:] == [True, False, True, True, True, True]
    np.testing.assert_allclose(table["predicted_percent"][6:], 100 * (13 / 14 - 1))


def test_gears_without_any(tmp_path: Path) -> None:
    write_gears(example.without_gears(), tmp_path / "gears.csv")
    lines = (tmp_path / "gears.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("setup,gear,samples,passages,speed_per_1000rpm_mps,speed_per_1000rpm_mps_lo95,")


def test_infinite_ends_are_empty(tmp_path: Path) -> None:
    analysis = example.three_setups()
    write_gears(replace(analysis, setups=analysis.setups), tmp_path / "gears.csv")
    assert "inf" not in (tmp_path / "gears.csv").read_text(encoding="utf-8")
