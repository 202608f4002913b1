"""`gearfit predict FOLDER`: times from the sample ride, on the terminal and for programs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from gearfit.cli import main

SAMPLE = Path(__file__).resolve().parents[1] / "sample_logs" / "trail-bike"


def test_times_of_the_sample_ride(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["predict", str(SAMPLE)]) == 0
    shown = capsys.readouterr().out.replace("\N{NO-BREAK SPACE}", " ")
    section = shown[shown.index("TIMES FROM THE RIDE") :]
    assert "0 to 100 km/h" in section
    assert "timed runs belong on a closed road or track" in " ".join(section.split())


def test_the_same_for_programs_and_nothing_without_a_ride(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["predict", str(SAMPLE), "--json"]) == 0
    from_ride = json.loads(capsys.readouterr().out)["from_ride"]
    assert from_ride["other"]["name"] == "after"
    # 14/48 to 14/50: thrust by 50/48.
    assert from_ride["thrust_percent"] == pytest.approx(100 * (50 / 48 - 1), abs=1e-6)
    assert main(["predict", str(SAMPLE / "bike.toml"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["from_ride"] is None
