"""The ride folder made ready to fill."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from gearfit.commands.cli import main
from gearfit.commands.new_folder import LAYOUT, make_folder
from gearfit.errors import FolderError, NoRowsError
from gearfit.importers import ReadOptions, read_folder, read_log
from gearfit.importers.sheet.workbook import worksheets
from gearfit.importers.text_file import read_text
from gearfit.machine.bike import Bike, Setup
from gearfit.machine.bike_file import read_bike
from gearfit.machine.bike_rules import OVERRIDES, RULES

_EXAMPLE = re.compile(r"^# (?=[a-z0-9_]+ = )", re.MULTILINE)


def test_makes_every_file_and_names_it(tmp_path: Path) -> None:
    folder = tmp_path / "rides" / "my bike"
    made = make_folder(folder)
    assert [path.relative_to(folder).as_posix() for path in made] == [
        "before/holds.csv",
        "before/timed.csv",
        "after/holds.csv",
        "after/timed.csv",
        "bike.toml",
        "HOW-TO-RIDE.md",
        "readings.xlsx",
    ]
    assert sorted(path for path in folder.rglob("*") if path.is_file()) == sorted(made)


def test_untouched_bike_file_states_nothing_about_the_machine(tmp_path: Path) -> None:
    make_folder(tmp_path)
    assert read_bike(tmp_path / "bike.toml") == Bike(setups=(Setup("before"), Setup("after")))


def test_bike_file_explains_every_key_with_an_example_that_is_valid(tmp_path: Path) -> None:
    make_folder(tmp_path)
    path = tmp_path / "bike.toml"
    text = path.read_text(encoding="utf-8")
    general, overrides = text.split("\n[setups.before]\n")
    shown = {match[1] for match in re.finditer(r"^# ([a-z0-9_]+) = ", general, re.MULTILINE)}
    either_or = {"indicated_step_mph"}  # beside indicated_step_kmh, of which it is the other unit
    assert shown | either_or == {key for rules in RULES.values() for key in rules}
    assert {match[1] for match in re.finditer(r"^# ([a-z0-9_]+) = ", overrides, re.MULTILINE)} <= set(OVERRIDES)
    path.write_text(_EXAMPLE.sub("", text), encoding="utf-8")
    bike = read_bike(path)
    assert len(bike.gearbox.gears or ()) == 6
    assert [bike.setup(name).final_drive.front for name in ("before", "after")] == [14, 13]


@pytest.mark.parametrize(
    ("sheet", "header"),
    [("holds.csv", "gear,rpm,speed_kmh\n"), ("timed.csv", "from_kmh,to_kmh,time_s\n")],
)
def test_sheets_have_a_header_and_no_rows(tmp_path: Path, sheet: str, header: str) -> None:
    make_folder(tmp_path)
    for setup in ("before", "after"):
        assert (tmp_path / setup / sheet).read_bytes() == header.encode()


@pytest.mark.parametrize("sheet", ["holds.csv", "timed.csv"])
def test_an_empty_sheet_is_one_without_rows_yet(tmp_path: Path, sheet: str) -> None:
    make_folder(tmp_path)
    with pytest.raises(NoRowsError):
        read_log(tmp_path / "before" / sheet)


def test_filled_in_as_the_guide_shows_the_folder_is_read(tmp_path: Path) -> None:
    make_folder(tmp_path)
    guide = (tmp_path / "HOW-TO-RIDE.md").read_text(encoding="utf-8")
    blocks = [re.sub("^ +", "", block, flags=re.MULTILINE) for block in re.findall(r"```\n(.*?)```", guide, re.DOTALL)]
    holds, dash, timed = ("\n".join(block.split()) + "\n" for block in blocks)
    for setup in ("before", "after"):
        (tmp_path / setup / "holds.csv").write_text(holds)
        (tmp_path / setup / "dash.csv").write_text(dash)
        (tmp_path / setup / "timed.csv").write_text(timed)
    rides = read_folder(tmp_path)
    assert rides.notes == tuple(f"Left aside: readings.xlsx, {setup} (no rows yet)." for setup in ("before", "after"))
    assert [ride.setup.name for ride in rides.setups] == ["before", "after"]
    for ride in rides.setups:
        shown, sheet, runs = ride.recordings
        assert shown.samples["indicated_mps"].tolist() == pytest.approx([70 / 3.6])
        assert shown.samples["speed_mps"].tolist() == pytest.approx([66.1 / 3.6])
        assert (sheet.kind, sheet.speed_source, runs.kind) == ("samples", "hand", "timed runs")
        row = sheet.samples.iloc[0]
        assert (row["stated_gear"], row["engine_rpm"]) == (3, 5000)
        assert row["speed_mps"] == pytest.approx(62 / 3.6)
        assert runs.runs["time_s"].tolist() == [6.4]


def test_guide_shows_the_headers_of_the_sheets_and_the_cautions(tmp_path: Path) -> None:
    make_folder(tmp_path)
    guide = (tmp_path / "HOW-TO-RIDE.md").read_text(encoding="utf-8")
    for words in (
        "gear,rpm,speed_kmh",
        "from_kmh,to_kmh,time_s",
        "closed road",
        "legal speeds",
        "Local law",
        "never on the dash",
        "torque, slack and alignment as the machine's manual says",
        "invented",
    ):
        assert words in guide


def test_existing_files_that_are_not_ours_stay(tmp_path: Path) -> None:
    (tmp_path / "before").mkdir()
    (tmp_path / "before" / "morning.gpx").write_text("kept")
    make_folder(tmp_path)
    assert (tmp_path / "before" / "morning.gpx").read_text() == "kept"


@pytest.mark.parametrize("place", LAYOUT)
def test_nothing_is_overwritten_and_nothing_else_written(tmp_path: Path, place: str) -> None:
    old = tmp_path / place
    old.parent.mkdir(exist_ok=True)
    old.write_text("mine")
    with pytest.raises(FolderError) as caught:
        make_folder(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path}: found {place} there already; allowed is a folder without it. "
        "Nothing was written. Choose another name, or move the old files away."
    )
    assert old.read_text() == "mine"
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == [old]


def test_a_file_in_the_way_of_the_folder(tmp_path: Path) -> None:
    target = tmp_path / "rides"
    target.write_text("a file")
    with pytest.raises(FolderError) as caught:
        make_folder(target)
    assert str(caught.value) == (f"{target}: found a file; allowed is a new or an empty folder. Choose another name.")


def test_a_file_in_the_way_of_a_setup(tmp_path: Path) -> None:
    (tmp_path / "before").write_text("a file")
    with pytest.raises(FolderError) as caught:
        make_folder(tmp_path)
    assert str(caught.value) == (f"{tmp_path}: cannot be written to (File exists). Check the path and its permissions.")
    assert [path.name for path in tmp_path.rglob("*")] == ["before"]


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Callable[[list[str]], None]:
    """Somebody at a terminal who gives these answers."""

    def answering(answers: list[str]) -> None:
        left = iter(answers)
        monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
        monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
        monkeypatch.setattr("builtins.input", lambda _: next(left))

    return answering


def test_on_a_terminal_six_questions_state_the_machine(
    tmp_path: Path, terminal: Callable[[list[str]], None], capsys: pytest.CaptureFixture[str]
) -> None:
    answers = ["14/43", "13", "13/43", "74/25", "35/13 31/17 28/20", "big", "140/70-17", "miles", "mph"]
    terminal(answers)
    assert main(["new", str(tmp_path / "my bike")]) == 0
    said = capsys.readouterr().out
    assert "Write both, such as 14/43" in said
    assert "no size code known here" in said
    assert f"gearfit report '{tmp_path / 'my bike'}'" in said
    bike = read_bike(tmp_path / "my bike" / "bike.toml")
    before, after = bike.setups
    assert (before.final_drive.front, before.final_drive.rear, after.final_drive.front) == (14, 43, 13)
    assert before.tyre.size == after.tyre.size == "140/70-17"
    assert bike.gearbox.primary == 74 / 25
    assert (tmp_path / "my bike" / "before" / "holds.csv").read_text("utf-8") == "gear,rpm,speed_mph\n"
    assert "# Teeth at the gearbox" in (tmp_path / "my bike" / "bike.toml").read_text("utf-8")


def test_every_question_may_be_skipped(tmp_path: Path, terminal: Callable[[list[str]], None]) -> None:
    terminal([""] * 6)
    assert main(["new", str(tmp_path)]) == 0
    assert read_bike(tmp_path / "bike.toml") == Bike(setups=(Setup("before"), Setup("after")))


@pytest.mark.parametrize("unit", ["kmh", "mph"])
def test_the_spreadsheet_is_one_that_is_read_once_it_is_filled_in(tmp_path: Path, unit: str) -> None:
    make_folder(tmp_path, unit)
    label = {"kmh": "km/h", "mph": "mph"}[unit]
    for sheet, text in worksheets(tmp_path / "readings.xlsx", "readings.xlsx").items():
        assert sheet in ("before", "after")
        assert text == f"Gear\tEngine speed rpm\tSpeed {label}\n"
        found = read_text("a", text + "3\t5000\t60\n4\t5000\t72\n", ReadOptions())
        assert found.samples["engine_rpm"].tolist() == [5000, 5000]
