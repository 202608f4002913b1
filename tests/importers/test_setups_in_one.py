"""One sheet that holds the readings of several setups."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearfit.errors import LogError
from gearfit.importers import read_folder
from gearfit.records.recording import Recording

MPH = 0.44704


def read(root: Path, files: dict[str, str]) -> dict[str, list[Recording]]:
    for name, text in files.items():
        (root / name).write_text(text, encoding="utf-8")
    return {ride.setup.name: list(ride.recordings) for ride in read_folder(root).setups}


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("readings.csv", "gear,rpm,MPH before,MPH after\n3rd,5000,41,38\n4th,5000,50,47\n"),
        ("before and after.csv", "Gear;RPM;Speed before (mph);Speed (mph) after\n3;5000;41;38\n4;5000;50;47\n"),
        ("before_after.csv", "gear\trpm\tbefore_mph\tmph_after\n3\t5000\t41\t38\n4\t5000\t50\t47\n"),
        ("a.csv", "setup,gear,rpm,mph\nbefore,3,5000,41\nAfter,3,5000,38\nbefore,4,5000,50\nAFTER,4,5000,47\n"),
    ],
)
def test_a_sheet_gives_both_setups(tmp_path: Path, name: str, text: str) -> None:
    found = read(tmp_path, {name: text})
    for setup, speeds in (("before", (41, 50)), ("after", (38, 47))):
        (recording,) = found[setup]
        assert (recording.file, recording.kind) == (name, "samples")
        samples = recording.samples.dropna(subset="speed_mps")
        assert samples["speed_mps"].tolist() == pytest.approx([speed * MPH for speed in speeds])
        assert samples["stated_gear"].tolist() == [3, 4]


def test_lines_keep_their_numbers(tmp_path: Path) -> None:
    found = read(tmp_path, {"a.csv": "setup,gear,rpm,mph\nbefore,3,5000,41\n\nafter,3,5000,38\nbefore,4,5000,50\n"})
    assert [found[name][0].samples["row"].tolist() for name in ("before", "after")] == [[2, 5], [4]]


def test_timed_runs_of_both_setups(tmp_path: Path) -> None:
    found = read(tmp_path, {"runs.csv": "from_mph,to_mph,time before,time after\n0,60,6.1,6.0\n0,60,6.3,\n"})
    assert [found[name][0].runs["time_s"].tolist() for name in ("before", "after")] == [[6.1, 6.3], [6.0]]


def test_the_setups_are_those_of_the_bike_file(tmp_path: Path) -> None:
    bike = "[final_drive]\nrear = 43\n[setups.stock]\nfront = 14\n[setups.short]\nfront = 13\n"
    found = read(tmp_path, {"bike.toml": bike, "a.csv": "gear,rpm,mph stock,mph short\n3,5000,41,38\n"})
    assert list(found) == ["stock", "short"]


def test_a_row_that_names_no_setup(tmp_path: Path) -> None:
    with pytest.raises(LogError) as caught:
        read(tmp_path, {"a.csv": "setup,gear,rpm,mph\nbefore,3,5000,41\nlater,3,5000,38\n"})
    assert str(caught.value) == (
        "a.csv, line 3, column 'setup': 'later' is no setup; the setups are before, after. Name the setup in each row."
    )


@pytest.mark.parametrize(
    "text",
    [
        "setup,gear,rpm,mph\nA,3,5000,41\n",
        "gear,rpm,mph,before noon\n3,5000,41,x\n",
        "time_s,rpm,mph before,mph after\n0,5000,41,41\n1,5000,41,41\n",
    ],
    ids=["another setup column", "one setup", "a log"],
)
def test_other_files_are_read_as_ever(tmp_path: Path, text: str) -> None:
    found = read(tmp_path, {"before_a.csv": text, "after.csv": "gear,rpm,mph\n3,5000,38\n"})
    assert list(found) == ["before", "after"]
    assert [recording.file for recording in found["before"]] == ["before_a.csv"]


def test_the_same_readings_in_both_columns_are_said(tmp_path: Path) -> None:
    text = "gear,rpm,mph before,mph after\n2,5000,31,31\n3,5000,41,41\n4,5000,50,50\n"
    read(tmp_path, {"a.csv": text})
    (copy,) = read_folder(tmp_path).copies
    assert not copy.counts_once
