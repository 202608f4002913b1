"""`gearfit predict FOLDER`: times from a ride, on the terminal and for programs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from gearfit.commands.cli import main
from tests.eight_starts import write_eight_starts


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_eight_starts(tmp_path / "bike")


def test_times_of_the_ride(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["predict", str(folder), "--all"]) == 0
    shown = capsys.readouterr().out.replace("\N{NO-BREAK SPACE}", " ")
    section = shown[shown.index("TIMES FROM THE RIDE") :]
    assert "0 to 100 km/h" in section
    assert "timed runs belong on a closed road or track" in " ".join(section.split())
    assert main(["predict", str(folder)]) == 0
    brief = " ".join(capsys.readouterr().out.split())
    assert "Change of times, predicted from the hardest riding seen: 0 to 96.6" in brief
    assert "Closed road or track only." in brief


def test_the_same_for_programs_and_nothing_without_a_ride(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["predict", str(folder), "--json"]) == 0
    from_ride = json.loads(capsys.readouterr().out)["from_ride"]
    assert from_ride["other"]["name"] == "after"
    # 14/48 to 14/50: thrust by 50/48.
    assert from_ride["thrust_percent"] == pytest.approx(100 * (50 / 48 - 1), abs=1e-6)
    assert main(["predict", str(folder / "bike.toml"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["from_ride"] is None
