"""`gearfit plan`: the plan, the card and the sheets, and the way round to the report."""

from __future__ import annotations

import base64
import re
from pathlib import Path

import numpy as np
import pytest

from gearfit.commands.cli import main
from gearfit.machine.bike_file import read_bike
from gearfit.prediction.basis import on_paper
from tests.report import browser as driven
from tests.test_cli import fails_with, sheet
from tests.test_command_predict import BIKE

SETUPS = "[setups.before]\n[setups.after]\nrear = 45\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    sheet(tmp_path / "tarn" / "bike.toml", BIKE + SETUPS)
    return tmp_path / "tarn"


def printed(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert main(["plan", *arguments]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def fill(folder: Path, setup: str, factor: float) -> None:
    """Write into the prepared sheets what an invented rider reads: rounded speeds, an unsteady hand, times of 6 s."""
    bike = read_bike(folder / "bike.toml")
    per_1000 = on_paper(bike, bike.setup("before"), "bike.toml").speed_per_1000rpm_mps
    rng = np.random.default_rng(11)
    holds = folder / setup / "planned_holds.csv"
    lines = holds.read_text().splitlines()
    for i, line in enumerate(lines[1:], start=1):
        gear, rpm = (float(cell) for cell in line.split(",")[:2])
        kmh = 3.6 * factor * per_1000[int(gear) - 1] * rpm / 1000 * (1 + 0.004 * rng.standard_normal())
        lines[i] = f"{line}{round(kmh)}"
    holds.write_text("\n".join(lines) + "\n")
    runs = folder / setup / "planned_runs.csv"
    lines = runs.read_text().splitlines()
    runs.write_text("\n".join([lines[0], *(f"{line}{6 + 0.1 * k:.2f}" for k, line in enumerate(lines[1:]))]) + "\n")


def test_plan_says_which_gears_can_be_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = printed([str(folder), "--units", "mph", "--rear", "44"], capsys)
    words = " ".join(out.split())
    assert "Expected change of road speed at the same engine speed: −2.27 %." in words
    untold = re.findall(r"Gear (\d) cannot be told apart from no change with a 1 mph display at [\d-]+ rpm", words)
    assert untold[:1] == ["1"]
    assert re.search(r"- Gears \d-6 can\.", words)
    assert "closed road" in words.lower()
    assert "STILL MISSING" not in out


def test_sheets_wait_then_are_read_and_the_plan_says_what_is_missing(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    printed([str(folder), "--passes", "4"], capsys)
    assert fails_with(["report", str(folder)], capsys).startswith(f"{folder}: the folder holds no recording")
    fill(folder, "before", 1.0)
    out = printed([str(folder), "--passes", "4"], capsys)
    assert "STILL MISSING\n  - after: the whole ride.\n" in out
    assert "Noise found in the ride before." in " ".join(out.split())
    assert f"kept {folder / 'after' / 'planned_holds.csv'} as it is" in out
    assert f"{folder / 'before' / 'planned_holds.csv'}" not in out
    assert main(["report", str(folder)]) == 0
    fill(folder, "after", 43 / 45)
    assert main(["report", str(folder)]) == 0
    assert "All 6 gears moved alike" in capsys.readouterr().out
    out = printed([str(folder), "--passes", "4"], capsys)
    assert "STILL MISSING\n  - Nothing: all is ridden.\n" in out


def test_nothing_filled_in_is_overwritten(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    printed([str(folder)], capsys)
    (folder / "before" / "planned_runs.csv").write_text("from_kmh,to_kmh,way,time_s\n0,80,out,6.1\n")
    (folder / "before" / "planned_holds.csv").write_text("gear,rpm,way,speed_kmh\n1,5000,out,24\n")
    printed([str(folder)], capsys)
    assert (folder / "before" / "planned_runs.csv").read_text().endswith("0,80,out,6.1\n")
    assert (folder / "before" / "planned_holds.csv").read_text().endswith("1,5000,out,24\n")


def test_a_log_needs_no_sheet_of_holds(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = printed([str(folder), "--by", "log"], capsys)
    assert "hold each for 10 s" in " ".join(out.split())
    assert not (folder / "before" / "planned_holds.csv").exists()
    assert (folder / "before" / "planned_runs.csv").exists()


def test_the_card_has_a_box_for_each_row_of_the_sheets_and_the_cautions(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    printed([str(folder), "--passes", "4"], capsys)
    holds = (folder / "after" / "planned_holds.csv").read_text().splitlines()[1:]
    runs = (folder / "after" / "planned_runs.csv").read_text().splitlines()[1:]
    card = (folder / "report" / "test_card_after.html").read_text("utf-8")
    assert re.findall(r'<td class="box"><small>(\d+) rpm</small><span></span></td>', card) == [
        row.split(",")[1] for row in holds
    ]
    assert card.count('<td class="box"><small>s</small>') == len(runs)
    assert [row.split(",")[2] for row in runs] == ["out", "back"] * (len(runs) // 2)
    for words in ("Closed road or track", "legal speed", "Eyes on the road", "as the machine&#39;s manual says"):
        assert words in card
    assert "://" not in card


def test_the_card_is_the_same_every_time_and_shows_names_as_text(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet(tmp_path / "bike.toml", BIKE.replace("Tarn 350", "<script>alert(1)</script>") + SETUPS)
    printed([str(tmp_path)], capsys)
    first = (tmp_path / "report" / "test_card_before.html").read_bytes()
    printed([str(tmp_path)], capsys)
    assert (tmp_path / "report" / "test_card_before.html").read_bytes() == first
    assert b"<script>alert" not in first


def test_the_card_prints_on_one_page(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    printed([str(folder), "--units", "mph", "--rear", "44", "--passes", "8"], capsys)
    browser = driven.start(tmp_path / "profile")
    browser.get((folder / "report" / "test_card_before.html").as_uri())
    printed_page = browser.execute_cdp_cmd("Page.printToPDF", {})
    browser.quit()
    pdf = base64.b64decode(printed_page["data"])
    assert re.findall(rb"/Type /Pages?\b[^>]*/Count (\d+)|/Count (\d+)", pdf)[0] in [
        (b"1", b""),
        (b"", b"1"),
    ]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--fastest", "5"], '--fastest: found "5"; allowed are 10 to 300 km/h. Correct the value.'),
        (
            ["--fastest", "12"],
            "--fastest: no gear can be held within this speed. Allow a higher one where the law and the road do.",
        ),
        (
            ["--passes", "0"],
            "--passes: found 0; allowed are 1 to 20. Correct the value, or leave it out: then 2 to 8 are chosen.",
        ),
        (
            ["--rpm", "100"],
            "--rpm: found 100.0; allowed are numbers from 500 to 30000 rev/min. Correct the value or leave the option "
            "out.",
        ),
        (["--change", "0"], "the change: found 0.00 %; allowed is a change that can be shown. Choose another pair."),
    ],
)
def test_what_cannot_be(folder: Path, arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert fails_with(["plan", str(folder), *arguments], capsys) == message


def test_a_plan_without_a_change(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet(tmp_path / "bike.toml", BIKE)
    assert fails_with(["plan", str(tmp_path)], capsys) == (
        f"{tmp_path}, bike.toml: found no difference between before and after; a plan needs the change that is to be "
        "shown. State it under [setups.after], or give --to, --front, --rear, --tyre or --change."
    )


def test_no_folder_and_no_bike_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert fails_with(["plan", str(tmp_path / "none")], capsys) == (
        f"{tmp_path / 'none'}: there is no such folder. Make one with `gearfit new FOLDER`."
    )
    assert fails_with(["plan", str(tmp_path)], capsys).startswith(f"{tmp_path}: the folder holds no recording")


def test_a_plan_needs_no_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    stated = ["--from", "14/43", "--to", "13/43", "--primary", "74/25", "--tyre", "140/70-17", "--fastest", "55mph"]
    out = printed([*stated, "--gears", "35/13 31/17 28/20 26/22 24/24 23/26", "--units", "mph"], capsys)
    words = " ".join(out.split())
    assert "Expected change of road speed at the same engine speed: −7.14 %." in words
    assert "none above 55 mph" in words
    assert "For cards and sheets: gearfit new FOLDER" in words
    assert list(tmp_path.iterdir()) == []


def test_teeth_alone_are_too_few_for_a_plan(capsys: pytest.CaptureFixture[str]) -> None:
    assert fails_with(["plan", "--from", "14/43", "--to", "13/43"], capsys).startswith(
        "the options: found no [gearbox] primary and no [gearbox] gears and no [tyre] size; speeds need primary drive"
    )
