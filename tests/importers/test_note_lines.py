"""What a line of a note leaves open is asked about, and its words count; spreadsheets that would take all memory."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gearfit.errors import LogError
from gearfit.importers import read_folder, read_log
from gearfit.units import MPS_PER_MPH
from tests.importers.conftest import Read


@pytest.mark.parametrize("marks", [("1) ", "2) "), ("(1) ", "(2) "), ("- ", "- "), ("", "")])
def test_the_number_of_a_line_is_no_gear(read: Read, marks: tuple[str, str]) -> None:
    found = read(f"{marks[0]}3rd 5000 rpm 50 mph\n{marks[1]}4th 5000 rpm 60 mph\n", "note.txt")
    assert found.samples["stated_gear"].tolist() == [3, 4]


def test_who_writes_is_no_first_gear(read: Read) -> None:
    found = read("I saw 50 mph at 5000 rpm in third\nI saw 60 mph at 5000 rpm in fourth\n", "note.txt")
    assert found.samples["stated_gear"].tolist() == [3, 4]


def test_a_speed_of_the_dash_is_not_the_road_s(read: Read) -> None:
    found = read("3rd 5000 rpm 50 mph on the dash\n4th 5000 rpm 60 mph dash\n", "note.txt").samples
    assert np.allclose(found["indicated_mps"], [50 * MPS_PER_MPH, 60 * MPS_PER_MPH])
    satellite = read("3rd 5000 rpm 50 mph GPS\n4th 5000 rpm 60 mph gps\n", "note.txt").samples
    assert satellite["indicated_mps"].isna().all()


@pytest.mark.parametrize("doubtful", ["about 50 mph", "ca. 50 mph", "50 mph?", "~50 mph", "50? mph"])
def test_doubts_however_written_widen_the_error(read: Read, doubtful: str) -> None:
    found = read(f"3rd 5000 rpm {doubtful}\n4th 5000 rpm 61 mph\n5th 5000 rpm 72 mph\n", "note.txt").samples
    assert found["speed_mps"][0] == pytest.approx(50 * MPS_PER_MPH)
    assert found["speed_sd_mps"][0] > 2 * found["speed_sd_mps"][1]


@pytest.mark.parametrize(
    ("note", "message"),
    [
        (
            "1. 3rd 5000 rpm 50 mph\n2. 3rd 4500 rpm 45 mph\n",
            "note.txt, line 1: '1. 3rd 5000 rpm 50 mph' names more than one gear. Write 'gear 1 5000 rpm 50 mph' or "
            "'gear 3 5000 rpm 50 mph'.",
        ),
        (
            "3rd 5000 rpm 50-52 mph\n4th 5000 rpm 60 mph\n",
            "note.txt, line 1: '50-52 mph' are two values; allowed is one. Write what it was, or the middle as a "
            "doubtful one: '~51 mph'.",
        ),
        (
            "3rd 5000 rpm 50 mph dash\n4th 5000 rpm 60 mph\n",
            "note.txt, line 2: other lines say that the speed is the dash's, this one does not say whose it is. Write "
            "dash or GPS behind the speed of each line, dash and GPS in files of their own.",
        ),
        (
            "3rd 60-100 km/h 4.5 s\n4th 60-100 km/h 5.9 s\n",
            "note.txt, line 2: the runs over 60 to 100 km/h are in different gears; such times are not alike. Keep the "
            "runs of one gear here, those of another gear as a file in a ride folder of its own.",
        ),
        (
            "gear rpm dash_mph gps_mph\n3 5000 52 50\n3 4500 45\n4 5000 63 60\n",
            "note.txt, line 3: '3  4500  45' has 3 values under 4 headers; which one is missing cannot be told. Write "
            "- for what is missing, such as '-  3  4500  45' or "
            "'3  -  4500  45' or '3  4500  -  45' or '3  4500  45  -'.",
        ),
    ],
)
def test_what_is_left_open_is_asked(read: Read, note: str, message: str) -> None:
    with pytest.raises(LogError) as caught:
        read(note, "note.txt")
    assert str(caught.value) == message


def test_counted_runs_and_decimal_commas(read: Read) -> None:
    found = read("1. 60-100 km/h 4,5 s\n2. 60-100 km/h 4.6 s\nrun 3: 60-100 km/h 4,7 sec\n", "note.txt")
    assert found.runs["time_s"].tolist() == [4.5, 4.6, 4.7]


def test_a_gap_with_its_mark_and_short_remarks(read: Read) -> None:
    found = read("gear rpm dash_mph gps_mph\n3 5000 - 50\n4 5000 63 60\n", "note.txt").samples
    assert np.allclose(found["indicated_mps"], [np.nan, 63 * MPS_PER_MPH], equal_nan=True)
    remarked = read("gear rpm mph remark\n3 5000 50 windy\n3 4500 45\n", "note.txt").samples
    assert remarked["engine_rpm"].tolist() == [5000, 4500]


def test_a_cell_in_the_last_corner_takes_no_memory_of_ours(tmp_path: Path) -> None:
    """Laid out it would be 2^34 cells; the process that tries ends, the caller goes on."""
    xlsxwriter = pytest.importorskip("xlsxwriter")
    pytest.importorskip("resource")
    (tmp_path / "before").mkdir()
    path = tmp_path / "before" / "corner.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["gear", "rpm", "mph"])
        sheet.write(2**20 - 1, 2**14 - 1, 1)
    message = (
        "this is no spreadsheet that can be read (reading it fails, or takes far more memory or time than any "
        "notebook). Save it again as .xlsx, .ods or CSV."
    )
    with pytest.raises(LogError) as caught:
        read_log(path)
    assert str(caught.value) == f"corner.xlsx: {message}"
    (tmp_path / "before" / "a.csv").write_text("gear,rpm,mph\n3,5000,50\n4,5000,60\n")
    assert read_folder(tmp_path).notes == (f"Left aside: before/corner.xlsx: {message}",)
