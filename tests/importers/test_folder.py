"""The ride folder: setups, files left aside, errors."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearfit.errors import FolderError, LogError
from gearfit.importers import read_folder

LOG = "time_s,rpm,speed_kmh\n0,1000,10\n1,1100,11\n"
OTHER_LOG = "time_s,rpm,speed_kmh\n0,2000,20\n1,2100,21\n"
SHEET = "gear,rpm,speed_kmh\n1,3000,20\n"
REMEDY = (
    "Put the rides into the sub-folders before and after, or begin their names with these words; "
    "`gearfit new FOLDER` makes a folder to fill."
)


def fill(root: Path, files: dict[str, str]) -> Path:
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return root


def names(root: Path) -> dict[str, list[str]]:
    return {entry.setup.name: [recording.file for recording in entry.recordings] for entry in read_folder(root).setups}


def test_sub_folders(tmp_path: Path) -> None:
    fill(tmp_path, {"after/b.csv": LOG, "before/z.csv": LOG, "before/a.csv": SHEET})
    folder = read_folder(str(tmp_path))
    assert names(tmp_path) == {"before": ["before/a.csv", "before/z.csv"], "after": ["after/b.csv"]}
    assert (folder.path, folder.has_bike_file, folder.notes) == (tmp_path, False, ())
    assert folder.setups[0].recordings[0].samples["file"].tolist() == ["before/a.csv"]


@pytest.mark.parametrize("mark", ["_", " ", "-", "."])
def test_flat_files_by_first_word(tmp_path: Path, mark: str) -> None:
    fill(tmp_path, {f"before{mark}run1.csv": LOG, f"After{mark}holds.csv": SHEET})
    assert names(tmp_path) == {"before": [f"before{mark}run1.csv"], "after": [f"After{mark}holds.csv"]}


def test_both_ways_together_and_one_setup_only(tmp_path: Path) -> None:
    fill(tmp_path, {"before/b.csv": LOG, "before_a.csv": OTHER_LOG})
    assert names(tmp_path) == {"before": ["before/b.csv", "before_a.csv"]}


def test_setups_of_the_bike_file_in_its_order(tmp_path: Path) -> None:
    bike = (
        "[final_drive]\nrear = 43\n[setups.stock]\nfront = 14\n[setups.short]\nfront = 13\n[setups.long]\nfront = 15\n"
    )
    fill(tmp_path, {"bike.toml": bike, "long/a.csv": LOG, "stock.csv": LOG, "before/a.csv": LOG})
    folder = read_folder(tmp_path)
    assert folder.has_bike_file
    assert names(tmp_path) == {"stock": ["stock.csv"], "long": ["long/a.csv"]}
    assert [entry.setup.final_drive.front for entry in folder.setups] == [14, 15]
    assert folder.notes == ("Left aside: before (its name begins with no setup; the setups are stock, short, long).",)


@pytest.mark.parametrize("listed", ["after", "before"])
def test_one_of_before_and_after_listed_alone_leaves_the_other(tmp_path: Path, listed: str) -> None:
    """Only what differs is written down: the other setup is the machine itself, and before stays the reference."""
    bike = f"[final_drive]\nfront = 15\nrear = 45\n[setups.{listed}]\nfront = 14\n"
    fill(tmp_path, {"bike.toml": bike, "after/b.csv": LOG, "before/a.csv": LOG})
    folder = read_folder(tmp_path)
    teeth = {entry.setup.name: entry.setup.final_drive.front for entry in folder.setups}
    assert list(teeth.items()) == [
        ("before", 14 if listed == "before" else 15),
        ("after", 14 if listed == "after" else 15),
    ]


def test_what_is_ignored_without_a_word(tmp_path: Path) -> None:
    files = {
        "report/results.json": "{}",
        "README.md": "x",
        ".hidden": "x",
        "before/.hidden": "x",
        "before/notes.md": "x",
    }
    fill(tmp_path, {**files, "before/a.csv": LOG})
    assert read_folder(tmp_path).notes == ()


def test_a_file_that_cannot_be_read_beside_one_that_can(tmp_path: Path) -> None:
    fill(tmp_path, {"before/a.csv": LOG, "before/b.csv": "", "after/a.csv": LOG})
    assert read_folder(tmp_path).notes == (
        "Left aside: before/b.csv: the file is empty. Save the log or sheet again, or remove the file.",
    )


def test_a_setup_of_which_nothing_can_be_read(tmp_path: Path) -> None:
    fill(tmp_path, {"before/a.csv": LOG, "after/a.csv": ""})
    with pytest.raises(LogError) as caught:
        read_folder(tmp_path)
    assert str(caught.value) == ("after/a.csv: the file is empty. Save the log or sheet again, or remove the file.")


def test_empty_sheets_are_left_aside(tmp_path: Path) -> None:
    fill(
        tmp_path, {"before/a.csv": LOG, "before/timed.csv": "from_kmh,to_kmh,time_s\n", "after/holds.csv": "gear,rpm\n"}
    )
    folder = read_folder(tmp_path)
    assert names(tmp_path) == {"before": ["before/a.csv"]}
    assert folder.notes == (
        "Left aside: before/timed.csv (no rows yet).",
        "Left aside: after/holds.csv (no rows yet).",
    )


def test_only_empty_sheets(tmp_path: Path) -> None:
    fill(tmp_path, {"before/holds.csv": "gear,rpm\n", "after/holds.csv": "gear,rpm\n"})
    with pytest.raises(FolderError) as caught:
        read_folder(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path}: the folder holds no recording; left aside: before/holds.csv (no rows yet), and 1 more. {REMEDY}"
    )


def test_names_that_are_no_setup(tmp_path: Path) -> None:
    fill(tmp_path, {"before/a.csv": LOG, "ride.gpx": "x", "beforehand.csv": LOG, "summer/a.csv": LOG})
    setups = "(its name begins with no setup; the setups are before, after)."
    assert read_folder(tmp_path).notes == (
        f"Left aside: beforehand.csv {setups}",
        f"Left aside: ride.gpx {setups}",
        f"Left aside: summer {setups}",
    )


def test_a_folder_inside_a_setup(tmp_path: Path) -> None:
    fill(tmp_path, {"before/a.csv": LOG, "before/old/b.csv": LOG})
    assert read_folder(tmp_path).notes == ("Left aside: before/old (not a file; put the rides straight into before).",)


def test_links_that_lead_outside(tmp_path: Path) -> None:
    outside, root = tmp_path / "outside", tmp_path / "bike"
    fill(outside, {"secret.csv": LOG})
    fill(root, {"before/a.csv": LOG, "before/b.csv": OTHER_LOG, ".store/d.csv": SHEET})
    (root / "before" / "c.csv").symlink_to(outside / "secret.csv")
    (root / "before" / "d.csv").symlink_to(root / ".store" / "d.csv")
    (root / "after").symlink_to(outside)
    assert names(root) == {"before": ["before/a.csv", "before/b.csv", "before/d.csv"]}
    assert read_folder(root).notes == (
        "Left aside: after (a link that leads outside the folder is not followed).",
        "Left aside: before/c.csv (a link that leads outside the folder is not followed).",
    )


def test_an_empty_folder(tmp_path: Path) -> None:
    with pytest.raises(FolderError) as caught:
        read_folder(tmp_path)
    assert str(caught.value) == f"{tmp_path}: the folder holds no recording. {REMEDY}"


def test_a_missing_folder(tmp_path: Path) -> None:
    with pytest.raises(FolderError) as caught:
        read_folder(tmp_path / "nowhere")
    assert str(caught.value) == f"{tmp_path / 'nowhere'}: there is no such folder. {REMEDY}"


def test_a_file_in_place_of_a_folder(tmp_path: Path) -> None:
    fill(tmp_path, {"a.csv": LOG})
    with pytest.raises(FolderError) as caught:
        read_folder(tmp_path / "a.csv")
    assert str(caught.value) == f"{tmp_path / 'a.csv'}: this is a file; allowed is a folder with the rides. {REMEDY}"
