"""Forms of logs as riders have them: own words, raw OBD-II answers, one channel a row, clocks, repeated headers."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearfit.errors import LogError
from gearfit.importers import ReadOptions, options_near, read_folder, read_log
from gearfit.machine.bike import ColumnNames
from gearfit.records.recording import Recording
from tests.importers.conftest import Read

GERMAN = "Zeit;Geschwindigkeit;Drehzahl\n0,0;36,0;3000\n0,5;72,0;3500\n"
NAMES = ColumnNames(time="Zeit", speed="Geschwindigkeit", speed_unit="km/h", rpm="drehzahl", time_unit="s")


def read_with(folder: Path, text: str, names: ColumnNames) -> Recording:
    path = folder / "ride"
    path.write_text(text, "utf-8")
    return read_log(path, options=ReadOptions(columns=names))


def test_columns_in_words_of_the_rider(tmp_path: Path) -> None:
    log = read_with(tmp_path, GERMAN, NAMES)
    assert log.samples["speed_mps"].tolist() == pytest.approx([10, 20])
    assert log.samples["engine_rpm"].tolist() == [3000, 3500]
    assert log.samples["time_s"].tolist() == [0, 0.5]
    assert [column.header for column in log.columns] == ["Zeit", "Geschwindigkeit", "Drehzahl"]


def test_a_unit_in_the_header_serves_a_named_column(tmp_path: Path) -> None:
    names = ColumnNames(time="Temps", speed="Vitesse", rpm="Régime")
    log = read_with(tmp_path, "Temps;Vitesse [mph];Régime\n0;10;3000\n1;20;3100\n", names)
    assert log.samples["speed_mps"].tolist() == pytest.approx([4.4704, 8.9408])


def test_a_unit_in_the_row_below_serves_a_named_column(tmp_path: Path) -> None:
    names = ColumnNames(time="Temps", speed="Vitesse")
    log = read_with(tmp_path, "Temps;Vitesse\ns;km/h\n0;36\n1;72\n", names)
    assert log.samples["speed_mps"].tolist() == pytest.approx([10, 20])


def test_a_named_column_comes_before_all_others(tmp_path: Path) -> None:
    log = read_with(
        tmp_path, "time_s,GPS speed (km/h),V2 (km/h)\n0,1,36\n1,2,72\n", ColumnNames(speed="V2", speed_unit="km/h")
    )
    assert log.samples["speed_mps"].tolist() == pytest.approx([10, 20])
    assert "Column 'V2 (km/h)' is used" in log.notes[0]


def test_without_the_names_the_unit_is_asked_for(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read(GERMAN, "a.csv")
    assert str(caught.value).startswith("a.csv, column 'Geschwindigkeit': the header states no unit of speed")


def test_the_bike_file_serves_the_folder_and_a_file_on_its_own(tmp_path: Path) -> None:
    (tmp_path / "before").mkdir()
    log = tmp_path / "before" / "fahrt.csv"
    log.write_text(GERMAN, "utf-8")
    (tmp_path / "bike.toml").write_text(
        '[columns]\ntime = "Zeit"\nspeed = "Geschwindigkeit"\nspeed_unit = "km/h"\nrpm = "Drehzahl"\n', "utf-8"
    )
    assert len(read_folder(tmp_path).setups[0].recordings[0].samples) == 2
    assert len(read_log(log, options=options_near(log)).samples) == 2


#: SAE J1979, mode 01: PID 0C is (256 A + B) / 4 rev/min, PID 0D is A km/h; the arithmetic of the examples by hand:
#: 1AF8 = 6904, / 4 = 1726; 0FA0 = 4000, / 4 = 1000; FFFF / 4 = 16383.75; 32 = 50; FF = 255.
ANSWERS = {
    "41 0C 1A F8": ("rpm", 1726.0),
    "410C0FA0": ("rpm", 1000.0),
    "41 0c ff ff": ("rpm", 16383.75),
    "7E8 04 41 0C 1A F8": ("rpm", 1726.0),
    "18DAF110 04 41 0C 1A F8": ("rpm", 1726.0),
    "48 6B 10 41 0C 1A F8 C4": ("rpm", 1726.0),
    "41 0D 32": ("speed", 50.0),
    "7E8 03 41 0D FF": ("speed", 255.0),
    "410DFF": ("speed", 255.0),
}


@pytest.mark.parametrize("answer", ANSWERS)
def test_raw_obd_answers(read: Read, answer: str) -> None:
    kind, value = ANSWERS[answer]
    log = read(f"time_s,OBD raw\n0,{answer}\n1,{answer}\n2,41 05 7B\n3,NO DATA\n")
    if kind == "rpm":
        assert log.samples["engine_rpm"].dropna().tolist() == [value, value]
        assert log.samples["speed_mps"].isna().all()
    else:
        assert log.samples["speed_mps"].dropna().tolist() == pytest.approx([value / 3.6] * 2)
        assert log.speed_source == "machine"
    assert "2 OBD-II answers that are neither engine speed (41 0C) nor speed (41 0D) not used." in log.notes


def test_raw_answers_with_both_values_in_a_column_of_any_name(tmp_path: Path) -> None:
    log = read_with(
        tmp_path, "t;Antwort\n0,1;41 0C 1A F8 0D 32\n0,2;41 0D 33 0C 0F A0\n", ColumnNames("t", obd="Antwort")
    )
    assert log.samples["engine_rpm"].tolist() == [1726, 1000]
    assert log.samples["speed_mps"].tolist() == pytest.approx([50 / 3.6, 51 / 3.6])


def test_one_channel_a_row_with_its_name(read: Read) -> None:
    log = read(
        "time;channel;value;unit\n0.0;Engine RPM;3000;rpm\n0.1;Speed;36;km/h\n0.2;Coolant;80;C\n"
        "0.3;Engine RPM;3100;rpm\n0.4;Speed;72;km/h\n"
    )
    assert log.samples["engine_rpm"].dropna().tolist() == [3000, 3100]
    assert log.samples["speed_mps"].dropna().tolist() == pytest.approx([10, 20])
    assert log.samples["time_s"][log.samples["speed_mps"].notna()].tolist() == [0.1, 0.4]
    assert log.notes == ("1 other channel not used.",)


@pytest.mark.parametrize(
    ("header", "cells", "clock", "start_s", "seconds"),
    [
        ("Time", ("11:59:59 AM", "12:00:01 PM"), "time of day", 43199.0, 2.0),
        ("Time", ("11:59:59.5 pm", "12:00:00.5 am"), "time of day", 86399.5, 1.0),
        ("Time", ("05/31/2024 01:00:00 PM", "05/31/2024 01:00:02 PM"), "time of day", 46800.0, 2.0),
        ("Date,Time", ("2024-05-01,12:00:00", "2024-05-01,12:00:02"), "time of day", 43200.0, 2.0),
        ("Date,Time", ("01.05.2024,23:59:59", "02.05.2024,00:00:00"), "time of day", 86399.0, 1.0),
        ("Date,Time", ("1-May-2024,10:00:00", "3-May-2024,11:00:00"), "time of day", 36000.0, 2 * 86400 + 3600.0),
        ("Date,time_utc", ("2024-05-01,12:00:00", "2024-05-01,12:00:02"), "utc", 1714564800.0, 2.0),
        ("Date,time_utc", ("13/05/2024,12:00:00", "13/05/2024,12:00:02"), "utc", 1715601600.0, 2.0),
        ("Date,Time", ("2024-05-01,12:00:00Z", "2024-05-01,12:00:01Z"), "utc", 1714564800.0, 1.0),
        ("Date", ("2024-05-01T12:00:00Z", "2024-05-01T12:00:01Z"), "utc", 1714564800.0, 1.0),
        ("Date,Time", ("03/05/2024,12:00:00", "03/05/2024,12:00:02"), "time of day", 43200.0, 2.0),
    ],
)
def test_clocks_and_dates(
    read: Read, header: str, cells: tuple[str, str], clock: str, start_s: float, seconds: float
) -> None:
    """Unix seconds counted with `date -u -d ... +%s`."""
    log = read(f"{header},rpm\n{cells[0]},1000\n{cells[1]},2000\n")
    assert log.clock == clock
    assert log.start_s == pytest.approx(start_s)
    assert log.samples["time_s"].tolist() == pytest.approx([0, seconds])


def test_headers_repeated_further_down(read: Read) -> None:
    log = read("time;speed;rpm\ns;km/h;rpm\n0;36;3000\ntime;speed;rpm\ns;km/h;rpm\n1;72;3500\n")
    assert log.samples["row"].tolist() == [3, 6]
    assert log.notes == ("2 repeated header lines skipped.",)


def test_columns_that_change_their_order(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("time_s,speed_kmh,rpm\n0,36,3000\ntime_s,rpm,speed_kmh\n1,3500,72\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, line 3: another header with the columns in another order begins here; allowed is one order in a file. "
        "Split the file here."
    )


def test_thousands_of_columns(read: Read) -> None:
    other = ",".join(f"Cell {k}" for k in range(5000))
    zeros = ",".join(["0"] * 5000)
    log = read(f"time_s,{other},rpm,speed_kmh\n" + "".join(f"{k},{zeros},{3000 + k},{36 + k}\n" for k in range(50)))
    assert log.samples["engine_rpm"].tolist() == [3000 + k for k in range(50)]
    assert log.notes == ("5\u202f000 other columns not used.",)


def test_a_line_of_very_many_cells(read: Read) -> None:
    log = read("time_s,rpm\n0,1000\n1,1100" + "," * 300_000 + "\n2,1200" + ",9" * 100_000 + "\n3,1300\n")
    assert log.samples["row"].tolist() == [2, 3, 5]
    assert log.notes == ("1 row with more cells than headers left out (the first is line 4).",)


def test_a_quotation_mark_over_two_lines(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read('time_s,rpm\n0,"1000\n1,1100"\n', "a.csv")
    assert str(caught.value) == (
        "a.csv: a quotation mark is opened and never closed. Remove quotation marks from the file."
    )
