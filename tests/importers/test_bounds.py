"""Memory follows what a file holds, not how long it is; figures of whole files: tests/benchmarks/odd_files.py."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest

from gearfit.errors import LogError, NoRowsError
from gearfit.importers import read_log
from gearfit.importers.common.table import read_table
from gearfit.machine.bike import ColumnNames

HEADER = "gear,rpm,speed_kmh\n"
MANY = 3_000_000


@pytest.mark.parametrize("nothing", ["\n", ",,\n", " \t\n"])
def test_rows_that_hold_nothing_take_no_memory(nothing: str) -> None:
    text = f"{HEADER}1,4000,20\n{nothing * MANY}2,4000,32\n{nothing * MANY}"
    tracemalloc.start()
    table = read_table("a.csv", text, ColumnNames())
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert table.lines.tolist() == [2, MANY + 3]
    assert table.cells[2].tolist() == ["20", "32"]
    # a list of all lines would take eight bytes for each of them
    assert peak < 2 * MANY + 40e6


def test_nothing_but_a_header_and_empty_rows() -> None:
    for text in (HEADER, HEADER.strip(), HEADER + "\n" * 9, HEADER + ",,\n" * 9):
        with pytest.raises(NoRowsError):
            read_table("a.csv", text, ColumnNames())


@pytest.mark.parametrize("around", ["", "1,2,3\n"])
def test_line_numbers_survive_every_way_of_cutting(around: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from gearfit.importers.common import table

    text = HEADER + "".join(f"{n % 6 + 1},{4000 + n},{20 + n}\n" + "\n" * (n % 3) for n in range(40)) + around
    expected = [k for k, line in enumerate(text.split("\n"), 1) if line and k > 1]
    for letters in (1, 7, 64, 1 << 20):
        monkeypatch.setattr(table, "_LETTERS_AT_A_TIME", letters)
        assert read_table("a.csv", text, ColumnNames()).lines.tolist() == expected


@pytest.mark.parametrize("inside", [False, True])
def test_elements_deep_within_each_other(inside: bool, tmp_path: Path) -> None:
    point = '<trk><trkseg><trkpt lat="1" lon="2">' if inside else ""
    (tmp_path / "a.gpx").write_text(f"<gpx>{point}{'<x>' * 5000}", "utf-8")
    with pytest.raises(LogError) as caught:
        read_log(tmp_path / "a.gpx")
    assert str(caught.value) == (
        "a.gpx: elements stand within each other more than 100 deep, which no GPX track has. Export the track again "
        "from the recorder."
    )


def test_a_file_that_begins_with_blanks_holds_no_sentences(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("\n" * 300_000 + HEADER + "1,4000,20\n", "utf-8")
    with pytest.raises(LogError) as caught:
        read_log(tmp_path / "a.csv")
    assert str(caught.value).startswith("a.csv: no line names the columns, and the text begins 'gear,rpm,speed_kmh'")
