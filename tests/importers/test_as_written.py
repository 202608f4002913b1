"""Notes as people write them: lines, columns parted by blanks, spans as headers, other languages, spreadsheets."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest

from gearfit.commands.cli import main
from gearfit.errors import LogError
from gearfit.findings.analysis import analyse
from gearfit.importers import read_folder, read_log, sheets_of
from gearfit.machine.bike_file import read_bike
from gearfit.records.recording import Recording
from gearfit.units import MPS_PER_KMH, MPS_PER_MPH
from tests.importers.conftest import Read

pytest.importorskip("xlsxwriter", reason="xlsxwriter writes the spreadsheets of these tests")


def rows(recording: Recording) -> list[tuple[float, float, float]]:
    """Gear, engine speed and speed in km/h of each row."""
    table = recording.samples
    speed = table["speed_mps"].fillna(table["indicated_mps"]) / MPS_PER_KMH
    return [
        (gear, rpm, round(kmh, 1))
        for gear, rpm, kmh in zip(table["stated_gear"], table["engine_rpm"], speed, strict=True)
    ]


@pytest.mark.parametrize(
    "note",
    [
        "3rd 5000 rpm 50 mph\n4th 5000 rpm 60 mph\n",
        "Sunday, dry\n3rd gear: 50 mph at 5000rpm\n4th gear: 60mph @ 5,000 rpm\n".replace("5,000", "5000"),
        "5000 rpm, 50 mph, third\n\n5000 rpm, 60 mph, fourth\n",
        "gear 3, 5000 rpm = 50 mph\n# tired\ngear 4, 5000 rpm = 60 mph\n",
    ],
)
def test_lines_of_a_note(read: Read, note: str) -> None:
    assert rows(read(note, "note.txt")) == [(3, 5000, 80.5), (4, 5000, 96.6)]


def test_doubts_and_line_numbers_stay(read: Read) -> None:
    found = read("My ride\n\n3rd 5000 rpm ~50 mph\n4th 5000 rpm 60? mph\n5th 5000 rpm 71 mph\n", "note.txt")
    assert [int(number) for number in found.samples["row"]] == [3, 4, 5]
    assert rows(found)[2][0] == 5


@pytest.mark.parametrize(
    "text",
    [
        "gear rpm mph\n3 5000 50\n4 5000 60\n",
        "Gear   Engine speed rpm   Speed mph\n3      5000     50\n4   5000   60\n",
    ],
)
def test_columns_parted_by_blanks(read: Read, text: str) -> None:
    assert rows(read(text, "note.txt")) == [(3, 5000, 80.5), (4, 5000, 96.6)]


@pytest.mark.parametrize(
    "head",
    [
        "Gang;Drehzahl;Geschwindigkeit km/h",
        "Gang;Drehzahl (U/min);Geschwindigkeit [km/h]",
        "rapport;régime (tr/min);vitesse (km/h)",
        "marcha;revoluciones;velocidad km/h",
        "marcia;giri/min;velocità (km/h)",
        "versnelling;toerental;snelheid km/u",
        "Gear;RPM;True km/h",
        "Gear;RPM;Satnav (km/h)",
    ],
)
def test_headers_of_other_languages(read: Read, head: str) -> None:
    found = read(f"{head}\n3;5000;80,5\n4;5000;96,6\n", "a.csv")
    assert rows(found) == [(3, 5000, 80.5), (4, 5000, 96.6)]
    assert found.samples["speed_mps"].notna().all()


@pytest.mark.parametrize("head", ["Tacho km/h;GPS km/h", "compteur km/h;GPS km/h", "Dash km/h;Satnav km/h"])
def test_a_dash_against_a_receiver(read: Read, head: str) -> None:
    found = read(f"{head}\n50;47\n60;56\n", "a.csv")
    assert found.samples["indicated_mps"].to_numpy() / MPS_PER_KMH == pytest.approx([50, 60])
    assert found.samples["speed_mps"].to_numpy() / MPS_PER_KMH == pytest.approx([47, 56])


def test_times_under_the_spans_that_they_are_of(read: Read) -> None:
    found = read("0-60 mph,40-60 mph\n6.1,3.2\n6.3,\n", "a.csv")
    assert found.runs is not None
    assert found.runs["to_mps"].to_numpy() == pytest.approx([60 * MPS_PER_MPH] * 3)
    assert sorted(found.runs["time_s"]) == [3.2, 6.1, 6.3]
    mixed = read("0-60 mph,60-100 km/h\n6.1,3.2\n", "a.csv")
    assert mixed.runs is not None
    assert sorted(mixed.runs["to_mps"]) == pytest.approx(sorted([60 * MPS_PER_MPH, 100 * MPS_PER_KMH]), rel=1e-6)


def test_runs_as_lines(read: Read) -> None:
    found = read("0-60 mph: 6.1 s\n0 to 60 mph 6.3 s\n", "a.txt")
    assert found.runs is not None
    assert list(found.runs["time_s"]) == [6.1, 6.3]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "3,5000,50\n4,5000,60\n",
            "a.csv, line 1: '3,5000,50' has no line above it that names the columns; whether speeds are km/h or mph "
            "cannot be told. Write 'gear,rpm,speed_kmh' or 'gear,rpm,speed_mph' above it.",
        ),
        (
            "0-60,60-100\n6.1,5.2\n6.3,5.3\n",
            "a.csv, line 1: '0-60' states no unit of speed; allowed are km/h and mph. Write '0-60 km/h' or '0-60 mph'.",
        ),
        (
            "Dash,GPS\n50,47\n60,56\n",
            "a.csv, line 1: 'Dash,GPS' states no unit of speed; allowed are km/h and mph. Write 'Dash km/h,GPS km/h' "
            "or 'Dash mph,GPS mph'.",
        ),
    ],
)
def test_what_has_two_meanings_is_shown_written_both_ways(read: Read, text: str, message: str) -> None:
    with pytest.raises(LogError) as caught:
        read(text, "a.csv")
    assert str(caught.value) == message


def test_a_gear_that_cannot_be_read_is_set_aside_and_named(read: Read) -> None:
    found = read("3rd 5000 rpm 50 mph\n4th 5000 rpm 60 mph\nlow 5000 rpm 31 mph\n", "note.txt")
    assert any("'low'" in text for text in found.warnings)


def book(path: Path, sheets: dict[str, list[list[object]]]) -> Path:
    """Write a spreadsheet."""
    import xlsxwriter

    with xlsxwriter.Workbook(str(path)) as made:
        for name, cells in sheets.items():
            sheet = made.add_worksheet(name)
            for place, row in enumerate(cells):
                sheet.write_row(place, 0, row)
    return path


def held(factor: float) -> list[list[object]]:
    speeds = {1: 17, 2: 25, 3: 32, 4: 38}
    head: list[object] = ["Gear", "RPM", "MPH"]
    return [head] + [
        [gear, rpm, round(mph * rpm / 5000 * factor, 1)] for gear, mph in speeds.items() for rpm in (4000, 5000, 6000)
    ]


def test_a_spreadsheet_is_read_as_the_same_sheet_as_text(tmp_path: Path) -> None:
    cells = held(1.0)
    text = "\n".join(",".join(map(str, row)) for row in cells)
    (tmp_path / "a.csv").write_text(text, "utf-8")
    found = read_log(book(tmp_path / "a.xlsx", {"Sheet1": cells, "Empty": []}))
    plain = read_log(tmp_path / "a.csv")
    for name in ("stated_gear", "engine_rpm", "speed_mps", "row"):
        np.testing.assert_array_equal(found.samples[name].to_numpy(), plain.samples[name].to_numpy())


def test_worksheets_named_for_the_setups(tmp_path: Path) -> None:
    book(
        tmp_path / "rides.xlsx", {"Before": [["Sunday"], *held(1.0)], "After": held(13 / 14), "Notes": [["chain: wet"]]}
    )
    folder = read_folder(tmp_path)
    assert [ride.setup.name for ride in folder.setups] == ["before", "after"]
    assert folder.written_unit == "mph"
    assert main(["report", str(tmp_path), "--quiet"]) == 0


def test_each_worksheet_in_the_folder_of_a_setup(tmp_path: Path) -> None:
    for setup, factor in (("before", 1.0), ("after", 13 / 14)):
        (tmp_path / setup).mkdir()
        runs: list[list[object]] = [["0-60 mph"], [6.1 / factor], [6.3 / factor]]
        book(tmp_path / setup / "book.xlsx", {"Readings": held(factor), "Times": runs})
    folder = read_folder(tmp_path)
    assert [len(ride.recordings) for ride in folder.setups] == [2, 2]
    assert folder.copies == ()
    assert sheets_of(tmp_path / "before" / "book.xlsx") == ["Readings", "Times"]
    assert main(["check", str(tmp_path / "before" / "book.xlsx")]) == 0


def test_spreadsheets_that_are_none(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_bytes(b"PK\x03\x04junk")
    with pytest.raises(LogError, match="no spreadsheet that can be read"):
        read_log(tmp_path / "a.xlsx")
    with zipfile.ZipFile(tmp_path / "b.xlsx", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"\0" * 250_000_000)
    with pytest.raises(LogError, match="allowed are 200 MB"):
        read_log(tmp_path / "b.xlsx")
    book(tmp_path / "c.xlsx", {"a": []})
    with pytest.raises(LogError, match="the spreadsheet is empty"):
        read_log(tmp_path / "c.xlsx")
    book(tmp_path / "d.xlsx", {"a": held(1.0), "b": held(1.0)})
    with pytest.raises(LogError, match=r"it has 2 worksheets \(a, b\)"):
        read_log(tmp_path / "d.xlsx")
    (tmp_path / "e.xls").write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600)
    with pytest.raises(LogError, match="no spreadsheet that can be read"):
        read_log(tmp_path / "e.xls")


@pytest.mark.parametrize(
    ("line", "mended"),
    [
        ("name = Tarn 350", 'name = "Tarn 350"'),
        ("name = 'Tarn 350", 'name = "Tarn 350"'),
        ("[mass]\ntotal_kg = 250,5", "total_kg = 250.5"),
        ("[gearbox]\nprimary = 74/25  # counted", 'primary = "74/25"  # counted'),
    ],
)
def test_a_mistyped_bike_file_is_shown_as_it_would_be_right(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], line: str, mended: str
) -> None:
    (tmp_path / "bike.toml").write_text(line + "\n", "utf-8")
    assert main(["predict", str(tmp_path / "bike.toml")]) == 1
    assert capsys.readouterr().err.endswith(f"Write {mended}.\n")


def test_quotation_marks_of_a_phone_are_understood(tmp_path: Path) -> None:
    text = "name = “Tarn 350”  # ‘mine’\n[final_drive]\nkind = ‘chain’\nfront = 14\n"
    (tmp_path / "bike.toml").write_text(text, "utf-8")
    bike = read_bike(tmp_path / "bike.toml")
    assert (bike.name, bike.final_drive.front) == ("Tarn 350", 14)
    (tmp_path / "bike.toml").write_text('name = "The “Tarn”"\n', "utf-8")
    assert read_bike(tmp_path / "bike.toml").name == "The “Tarn”"


def test_a_mistyped_command_is_told_what_was_meant(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["reprot", "x"])
    assert caught.value.code == 2
    assert "did you mean report?" in capsys.readouterr().err


def test_folders_of_other_names_are_offered_as_setups(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("14T", "13T"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.csv").write_text("gear,rpm,speed_kmh\n3,5000,60\n", "utf-8")
    assert main(["report", str(tmp_path)]) == 1
    assert "“13T” and “14T”" in (err := capsys.readouterr().err)
    assert "[setups.13T] [setups.14T]" in err


def test_the_report_speaks_the_unit_of_the_sheets(tmp_path: Path) -> None:
    for setup, less in (("before", 0), ("after", 1)):
        (tmp_path / setup).mkdir()
        readings = [f"3,{rpm},{rpm / 100 - less:.0f}\n" for rpm in (4000, 5000, 6000)]
        (tmp_path / setup / "a.csv").write_text("gear,rpm,speed_mph\n" + "".join(readings), "utf-8")
    assert analyse(tmp_path).speed_unit == "mph"
    assert analyse(tmp_path, "kmh").speed_unit == "kmh"
    (tmp_path / "after" / "a.csv").write_text("gear,rpm,speed_kmh\n3,4000,62\n3,5000,78\n", "utf-8")
    assert analyse(tmp_path).speed_unit == "kmh"
