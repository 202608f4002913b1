"""What reaches a terminal: nothing raw from a file, blanks that can be searched, and signs that the output has."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from gearfit import read_bike
from gearfit.commands.cli import main
from gearfit.wording.terminal import one_line, plain

RUNS = "from_kmh,to_kmh,time_s\n0,80,6.4\n0,80,6.6\n0,80,6.5\n"
SHEET = "gear,rpm,speed_kmh\n1,4000,25\n2,4000,37\n3,4000,49\n"
TEETH = """
[gearbox]
primary = 2.7
gears = [2.8, 1.9, 1.5, 1.2, 1.0]
[final_drive]
front = 14
rear = 43
[tyre]
size = "120/80-18"
[setups.before]
[setups.after]
front = 13
"""
EVIL = "a\x1b[2Jb\u202ec\x9bd"


def ride(root: Path, name: str = "") -> Path:
    """An invented bike with a sheet in each setup."""
    after = SHEET.replace("25", "23").replace("37", "34").replace("49", "45")
    for setup, text in (("before", SHEET), ("after", after)):
        (root / setup).mkdir(parents=True)
        (root / setup / f"holds{name}.csv").write_text(text)
    return root


@pytest.mark.parametrize("text", ["\x1b]0;x\x07", "\x9b2J", "a\x00b", "\u202eabc", "\u2066x", "\x1b[31mred"])
def test_nothing_steers_a_terminal(text: str) -> None:
    assert all(sign.isprintable() for sign in plain(text))


def test_own_emphasis_and_lines_stay() -> None:
    assert plain("\x1b[1mbold\x1b[0m\nnext\tcell") == "\x1b[1mbold\x1b[0m\nnext\tcell"
    assert plain("0\N{NO-BREAK SPACE}to\N{NO-BREAK SPACE}80\N{NO-BREAK SPACE}km/h") == "0 to 80 km/h"
    assert one_line("a\nb") == "a\\x0ab"


def test_names_of_files_and_folders_are_shown_harmless(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    folder = ride(tmp_path / EVIL, EVIL)
    assert main(["check", str(next((folder / "before").iterdir()))]) == 0
    assert main(["report", str(folder)]) == 0
    assert main(["batch", str(tmp_path), "--jobs", "1"]) == 0
    assert main(["report", str(tmp_path / "no\nwhere")]) == 1
    out, err = capfd.readouterr()
    assert not set("\x1b\x9b\u202e\N{NO-BREAK SPACE}") & set(out + err)
    assert len(err.splitlines()) == 1
    assert "a\\x1b[2Jb\\u202ec\\x9bd" in out
    written = [path.read_text("utf-8") for path in tmp_path.rglob("*") if path.suffix in (".html", ".svg", ".json")]
    assert len(written) > 4
    assert not [text for text in written if set("\x1b\x9b\u202e") & set(text)]


def test_a_table_links_to_a_folder_whose_name_is_no_text(tmp_path: Path) -> None:
    folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/ride \xff"))
    try:
        ride(folder)
    except OSError:
        pytest.skip("the file system takes text alone")
    assert main(["batch", str(tmp_path), "--jobs", "1", "--quiet"]) == 0
    assert 'href="./ride%20%FF/report/report.html">ride \\xff<' in (tmp_path / "index.html").read_text("utf-8")
    assert "ride \\xff" in (tmp_path / "summary.csv").read_text("utf-8")


def test_marks_of_direction_are_shown_wherever_a_name_stands(tmp_path: Path) -> None:
    (ride(tmp_path) / "bike.toml").write_text('name = "Tarn\\u202e350"\n')
    assert main(["report", str(tmp_path), "--quiet"]) == 0
    for name in ("report.html", "results.json", "summary.svg"):
        assert "\u202e" not in (tmp_path / "report" / name).read_text("utf-8")
    assert "Tarn\\u202e350" in (tmp_path / "report" / "report.html").read_text("utf-8")


@pytest.mark.parametrize("key", ['name = "a\\nb"', 'name = "a\\u001b[2J"', f'name = "{"x" * 300}"'])
def test_a_name_is_one_line_of_text(key: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (ride(tmp_path) / "bike.toml").write_text(key + "\n")
    assert main(["report", str(tmp_path)]) == 1
    (line,) = capfd.readouterr().err.splitlines()
    assert "bike.toml, name" in line
    assert "one line of at most 200 letters" in line


@pytest.mark.parametrize("name", ["Tarn\N{NO-BREAK SPACE}350", "\N{WOMAN}\N{ZERO WIDTH JOINER}\N{RACING MOTORCYCLE}"])
def test_a_name_may_hold_what_people_write(name: str, tmp_path: Path) -> None:
    (tmp_path / "bike.toml").write_text(f'name = "{name}"\n', "utf-8")
    assert read_bike(tmp_path / "bike.toml").name == name


@pytest.mark.parametrize("encoding", ["cp1252", "cp850", "latin-1", "ascii", "utf-8"])
def test_signs_that_an_output_does_not_have_are_plain_ones(encoding: str, tmp_path: Path) -> None:
    """A minus sign was printed as a question mark: ?3.95 %."""
    (tmp_path / "bike.toml").write_text(f'name = "Tarn 350"\n{TEETH}')
    done = subprocess.run(
        [sys.executable, "-m", "gearfit", "predict", str(tmp_path / "bike.toml")],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": encoding},
        check=True,
    )
    said = done.stdout.decode(encoding)
    assert "?" not in said
    minus = "\N{MINUS SIGN}" if encoding == "utf-8" else "-"
    assert f"changes by {minus}7.14 %" in said  # 13/14 - 1


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
def test_pipes_and_devices_are_refused_and_never_waited_for(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    folder = ride(tmp_path)
    os.mkfifo(folder / "before" / "live.csv")
    os.mkfifo(folder / "before_live.csv")
    assert main(["check", str(folder / "before" / "live.csv"), os.devnull]) == 1
    assert capfd.readouterr().err.count("allowed is a file") == 2
    assert main(["report", str(folder)]) == 0
    os.mkfifo(folder / "bike.toml")
    assert main(["predict", str(folder / "bike.toml")]) == 1
    assert "bike.toml: this is a folder, a pipe or a device" in capfd.readouterr().err


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-", "| head -1"])
def test_a_closed_output_ends_nothing(closed: str, tmp_path: Path) -> None:
    command = f"{sys.executable} -m gearfit report {ride(tmp_path)} {closed}"
    done = subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert "Traceback" not in done.stdout + done.stderr
    assert (tmp_path / "report" / "report.html").is_file()


@pytest.mark.parametrize(
    ("command", "encoding"), [("report", "cp1252"), ("predict", "ascii"), ("predict", "cp1252"), ("predict", "utf-8")]
)
def test_json_holds_its_signs_on_every_output(command: str, encoding: str, tmp_path: Path) -> None:
    name = "K\xe5r\xe5 \N{MINUS SIGN}\N{RACING MOTORCYCLE}"
    (ride(tmp_path) / "bike.toml").write_text(f'name = "{name}"\n{TEETH}', "utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "gearfit", command, str(tmp_path), "--json"],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": encoding},
        check=True,
    )
    found = json.loads(done.stdout.decode(encoding))
    assert name in (found.get("name"), found.get("bike", {}).get("name"))
