"""Sheets that were prepared and not filled in yet: they wait, and spoil nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearfit.errors import NoRowsError
from gearfit.importers import read_folder, read_log

HOLDS = "gear,rpm,way,speed_kmh\n"
RUNS = "from_kmh,to_kmh,way,time_s\n"


def test_runs_without_a_single_time_have_no_rows_yet(tmp_path: Path) -> None:
    (tmp_path / "runs.csv").write_text(RUNS + "0,80,out,\n0,80,back,\n")
    with pytest.raises(NoRowsError) as caught:
        read_log(tmp_path / "runs.csv")
    assert str(caught.value) == "runs.csv: the column of times is still empty. Fill it in, or remove the file."


def test_the_rows_that_are_filled_in_count(tmp_path: Path) -> None:
    (tmp_path / "holds.csv").write_text(HOLDS + "1,5000,out,24\n1,4750,back,\n")
    (tmp_path / "runs.csv").write_text(RUNS + "0,80,out,6.1\n0,80,back,\n")
    holds, runs = read_log(tmp_path / "holds.csv"), read_log(tmp_path / "runs.csv")
    assert holds.samples["speed_mps"].notna().tolist() == [True, False]
    assert runs.runs["time_s"].tolist() == [6.1]


def test_a_setup_with_nothing_but_prepared_sheets_is_no_setup_yet(tmp_path: Path) -> None:
    for setup in ("before", "after"):
        (tmp_path / setup).mkdir()
        (tmp_path / setup / "holds.csv").write_text(HOLDS + "1,5000,out,\n")
    (tmp_path / "after" / "runs.csv").write_text(RUNS + "0,80,out,\n")
    (tmp_path / "before" / "ridden.csv").write_text("gear,rpm,speed_kmh\n1,5000,24\n")
    folder = read_folder(tmp_path)
    assert [ride.setup.name for ride in folder.setups] == ["before"]
    assert folder.notes == (
        "Left aside: after/runs.csv (no rows yet).",
        "Left aside: after/holds.csv (no speeds yet).",
    )
