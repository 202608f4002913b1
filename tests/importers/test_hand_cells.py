"""Sheets as riders write them: units and doubts in cells, gears in words, zeros, titles and remarks."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.errors import LogError, UnitError
from gearfit.importers import describe
from gearfit.importers.sheet.reader import DOUBT
from gearfit.records.recording import NEUTRAL, NO_READING, UNREAD_GEAR
from tests.importers.conftest import Read

MPH = 0.44704


def test_a_gear_that_cannot_be_read_is_no_row_without_a_gear(read: Read) -> None:
    sheet = read("gear,rpm,speed_mph\n2nd,4000,25\ntop,4000,55\nhigh,5000,70\n,4000,33\n", "a.csv")
    assert sheet.samples["stated_gear"].tolist() == pytest.approx([2, np.nan, np.nan, np.nan], nan_ok=True)
    assert sheet.left_out == {1: UNREAD_GEAR, 2: UNREAD_GEAR}, "a blank gear is no fault"
    assert sheet.warnings == (
        "Line 3, column 'gear': 'top' is no gear that can be read, and 1 more such ('high'); these 2 rows are left out."
        " Write the gear as a number from 1 to 8, N in neutral, or nothing where it is not known.",
    )
    assert any("warning: Line 3" in line for line in describe(sheet))


def test_a_sheet_of_gears_that_cannot_be_read(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("gear,rpm,speed_mph\nhigh,4000,55\ntop,4000,60\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, line 2, column 'gear': 'high' is no gear that can be read, and no other row has one. Write the gear as "
        "a number from 1 to 8, N in neutral, or nothing where it is not known."
    )


def test_rows_in_neutral(read: Read) -> None:
    sheet = read("gear,rpm,speed_mph\n2,4000,25\nN,1200,3\n0,1200,2\n")
    assert sheet.left_out == {1: NEUTRAL, 2: NEUTRAL}
    assert sheet.notes == ("2 rows in neutral left out (the first is line 3).",)


def test_zeros_negatives_and_text_are_no_readings(read: Read) -> None:
    sheet = read("gear,rpm,speed_mph\n2,4000,25\n2,0,25\n3,4000,0\n3,-4000,33\n3,4000,fast\n3,4000,\n")
    assert sheet.left_out == dict.fromkeys((1, 2, 3, 4), NO_READING), "the last row is blank, not wrong"
    assert not (sheet.samples[["speed_mps", "engine_rpm"]] == 0).any(axis=None)
    assert sheet.notes == (
        "Line 6, column 'speed_mph': 'fast' is no number; left out, 4 other values of the column kept.",
        "Line 5, column 'rpm': -4000 is outside 0 to 30000 rpm; left out, 5 other values of the column kept.",
        "Line 4, column 'speed_mph': '0' is no reading; left out.",
        "Line 3, column 'rpm': '0' is no reading; left out.",
        "1 of 6 rows lack a value (the first is line 7).",
    )


def test_a_sheet_of_zeros(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("gear,rpm,speed_mph\n2,4000,0\nN,4000,20\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, line 2: no row holds every value that it needs (1 row: in neutral, as noted, 1 row: zero, or no "
        "number, where a reading belongs). Fill in rpm and speed_mph in each row."
    )


def test_titles_dashes_and_remarks_are_passed_over_and_named(read: Read) -> None:
    sheet = read(
        "gear,rpm,speed_mph\n-----,-----,-----\n2,4000,25,windy\n\nafter lunch,,\n"
        "3,4000,33 # a lorry in front\n3,5000,41\n"
    )
    assert sheet.samples["row"].tolist() == [3, 6, 7]
    assert sheet.samples["speed_mps"].tolist() == pytest.approx([25 * MPH, 33 * MPH, 41 * MPH])
    assert sheet.notes == (
        "1 remark behind the last column passed over (the first is line 3: 'windy').",
        "2 lines without a reading passed over (the first is line 2: '-----').",
        "Column 'speed_mph': 1 remark behind a number passed over (the first is line 6: '# a lorry in front').",
    )


def test_text_behind_a_column_of_text_may_be_a_number_that_was_moved(read: Read) -> None:
    sheet = read("gear,road,rpm,speed_mph\n2,flat,4000,25\n3,flat,4000,33\n3,flat, wet,5000,40,ok\n")
    assert sheet.samples["row"].tolist() == [2, 3]
    assert sheet.notes[0] == "1 row with more cells than headers left out (the first is line 4)."


def test_a_row_that_is_not_filled_in_yet_is_counted_as_one(read: Read) -> None:
    sheet = read("gear,rpm,speed_mph\n2nd,4000,25\n3rd,,\n")
    assert sheet.notes == ("1 of 2 rows lack a value (the first is line 3).",)


@pytest.mark.parametrize("text", ["46 mph", "46mph", "46 MPH", "46 (mph)", "４６ mph", "46", "46.0"])
def test_a_cell_may_carry_the_unit_of_its_header(read: Read, text: str) -> None:
    assert read(f"rpm,speed_mph\n5000 rpm,{text}\n").samples["speed_mps"].tolist() == pytest.approx([46 * MPH])


def test_a_unit_that_every_cell_carries_is_that_of_the_column(read: Read) -> None:
    sheet = read("gear,rpm,speed\n2,4000,25 mph\n3,4000,33mph\n3,5000,\n")
    assert sheet.samples["speed_mps"].tolist()[:2] == pytest.approx([25 * MPH, 33 * MPH])
    assert [column.unit for column in sheet.columns] == ["", "rpm", "mph"]
    runs = read("from,to,time\n0,60 mph,6.1 s\n0,60 mph,6.2\n").runs
    assert runs["to_mps"].tolist() == pytest.approx([60 * MPH] * 2), "standing needs no unit"
    assert runs["time_s"].tolist() == [6.1, 6.2]


def test_a_unit_that_some_cells_carry_is_none(read: Read) -> None:
    with pytest.raises(UnitError) as caught:
        read("rpm,speed\n4000,25 mph\n5000,33\n", "a.csv")
    assert "column 'speed': the header states no unit of speed" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("rpm,speed_mph\n4000,25\n5000,53 km/h\n", "line 3, column 'speed_mph': the cell says km/h and the header mph"),
        ("rpm,speed\n4000,25 mph\n5000,53 km/h\n", "line 2, column 'speed': the cells say mph, km/h; allowed is one"),
        ("rpm,speed_mph\n25 mph,4000\n", "line 2, column 'rpm': the cell says mph and the header rpm"),
        ("rpm_x1000,speed_mph\n4.0,25\n4500 rpm,28\n", "line 3, column 'rpm_x1000': the cell says rpm and the header"),
    ],
)
def test_a_unit_that_contradicts_is_refused(read: Read, text: str, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        read(text, "a.csv")
    assert str(caught.value).startswith(f"a.csv, {message}")
    assert str(caught.value).endswith("Write one unit for the whole column.")


@pytest.mark.parametrize(
    "text", ["5000", "5000rpm", "5.000", "5.000 rpm", "5 000", "5'000 1/min", "5k", "5.0k", "5 krpm"]
)
def test_thousands_of_revolutions(read: Read, text: str) -> None:
    sheet = read(f"rpm;speed_kmh\n{text};50\n6500;65\n")
    assert sheet.samples["engine_rpm"].tolist() == [5000, 6500]


def test_a_point_before_three_figures_parts_off_thousands_only_where_nothing_speaks_against_it(read: Read) -> None:
    """5.125 beside 5.25 are thousands with decimals, which the header has to say."""
    with pytest.raises(UnitError):
        read("rpm;speed_kmh\n5.125;50\n5.25;51\n")
    assert read("rpm_x1000;speed_kmh\n5.125;50\n").samples["engine_rpm"].tolist() == [5125]


@pytest.mark.parametrize("text", ["~36", "36?", "ca. 36", "36-ish", "36ish mph", "about 36 mph", "36 mph?", "36 (?)"])
def test_a_reading_in_doubt_has_a_wider_error(read: Read, text: str) -> None:
    sheet = read(f"rpm,speed_mph\n4000,30\n~5000,{text}\n")
    assert sheet.samples["speed_mps"].tolist() == pytest.approx([30 * MPH, 36 * MPH])
    assert sheet.samples["speed_sd_mps"].tolist() == pytest.approx([MPH / np.sqrt(12), DOUBT * MPH / np.sqrt(12)])
    assert sheet.samples["rpm_sd_rpm"].tolist() == pytest.approx([1 / np.sqrt(12), DOUBT / np.sqrt(12)])
    assert sheet.notes == (
        "Column 'rpm': 1 value marked as doubtful, the first in line 3.",
        "Column 'speed_mph': 1 value marked as doubtful, the first in line 3.",
    )


def test_two_numbers_in_a_cell_are_none(read: Read) -> None:
    sheet = read("rpm,speed_mph\n4000,30\n5000,35-37\n5000,36/37\n4000,30\n4000,30\n")
    assert sheet.left_out == {1: NO_READING, 2: NO_READING}


def test_a_log_is_not_looked_through_for_units(read: Read) -> None:
    log = read("time_s,rpm,speed_kmh\n0,4000,50\n1,4000,51 km/h\n2,4000,52\n")
    assert "'51 km/h' is no number" in log.notes[0]
