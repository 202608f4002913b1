"""What gearfit writes neither takes the place of a rider's file nor is read as a ride, and goes whole or not at all."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gearfit.batch.run import run_here
from gearfit.batch.work import Task, work
from gearfit.commands.cli import main
from gearfit.errors import FolderError, InputError
from gearfit.importers import read_folder
from gearfit.own_files import LIST, digest, refuse_foreign, refuse_rides
from gearfit.whole_files import write_together
from tests.faults.programs import content, run, start
from tests.faults.test_whole_files import ride_in


def write(folder: Path, text: str, names: str = "abc") -> None:
    def make(place: Path) -> list[str]:
        for name in names:
            (place / name).write_text(text)
        return list(names)

    write_together(folder, make, part="report")


@pytest.mark.parametrize("place", range(9))
def test_a_move_that_fails_leaves_the_older_files(place: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Four files and the list of them go out, four come in; a rider's own file stays."""
    write(tmp_path, "old", "abcd")
    (tmp_path / "mine.txt").write_text("mine")
    before = content(tmp_path)
    moves = 0
    real = os.replace

    def move(*arguments: Any) -> None:
        nonlocal moves
        moves += 1
        if moves == place + 1:
            raise PermissionError(13, "open elsewhere")
        real(*arguments)

    monkeypatch.setattr(os, "replace", move)
    with pytest.raises(PermissionError):
        write(tmp_path, "new", "bcde")
    assert content(tmp_path) == before


KILLED = """
import os, sys
from pathlib import Path
from gearfit import whole_files
from tests.faults.test_own_files import write
moves, real = 0, os.replace
def move(*arguments):
    global moves
    moves += 1
    if moves > int(sys.argv[2]):
        os._exit(9)
    real(*arguments)
whole_files.os.replace = move
write(Path(sys.argv[1]), "new", "bcde")
"""


@pytest.mark.parametrize("place", [0, 2, 5, 7])
def test_after_a_kill_no_two_runs_stand_beside_each_other_and_the_next_clears_up(place: int, tmp_path: Path) -> None:
    write(tmp_path, "old", "abcd")
    before = content(tmp_path)
    assert run(KILLED, str(tmp_path), str(place))[0] == 9
    seen = {path.read_bytes() for path in tmp_path.iterdir() if path.is_file() and path.name != LIST}
    assert len(seen) <= 1

    def fail(_: Path) -> list[str]:
        raise ZeroDivisionError("planned")

    with pytest.raises(ZeroDivisionError):
        write_together(tmp_path, fail, part="report")
    assert content(tmp_path) == before, "moved back"


AGAIN_AND_AGAIN = """
import itertools, sys
from pathlib import Path
from tests.faults.test_own_files import write
for run in itertools.count():
    write(Path(sys.argv[1]), str(run), "abcdefgh")
    print("written", flush=True)
"""


@pytest.mark.parametrize("kills", [6, pytest.param(50, marks=pytest.mark.validation)])
def test_killed_at_any_moment_no_two_runs_stand_beside_each_other(kills: int, tmp_path: Path) -> None:
    moments = np.random.default_rng(7).uniform(0.0, 0.1, kills)
    interrupted = 0
    for moment in moments:
        process = start(AGAIN_AND_AGAIN, str(tmp_path))
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(moment)
        process.kill()
        process.communicate()
        runs = {path.read_bytes() for path in tmp_path.iterdir() if path.is_file() and path.name != LIST}
        assert len(runs) <= 1
        interrupted += any(path.name.startswith(".unfinished-") for path in tmp_path.iterdir())
        write(tmp_path, "whole again", "abcdefgh")
        assert sorted(path.name for path in tmp_path.iterdir()) == [LIST, *"abcdefgh"]
        assert {(tmp_path / name).read_bytes() for name in "abcdefgh"} == {b"whole again"}
    assert interrupted, "no kill came in the middle of a write"


def test_a_file_of_the_rider_is_never_replaced(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ride = ride_in(tmp_path / "ride")
    for arguments, name in (
        (["report", str(ride), "--out", str(tmp_path / "o")], "o/gears.csv"),
        (["export", str(ride), "--out", str(tmp_path / "e")], "e/samples.csv"),
        (["batch", str(tmp_path), "--jobs", "1"], "index.html"),
        (["batch", str(tmp_path), "--jobs", "1"], "summary.csv"),
    ):
        mine = tmp_path / name
        mine.parent.mkdir(exist_ok=True)
        mine.write_text("time_s,speed_kmh,rpm\n0,50,4000\n")
        before = content(tmp_path)
        assert main(arguments) == 1
        assert capsys.readouterr().err == (
            f"gearfit: {mine}: a file that gearfit did not write stands in this place. Nothing was replaced. Move it "
            "away, or have gearfit write into another folder.\n"
        )
        assert content(tmp_path) == before
        mine.unlink()


def test_results_do_not_go_among_rides(tmp_path: Path) -> None:
    ride = ride_in(tmp_path / "a")
    before = content(ride)
    for out in (ride, ride / "before", ride / "after" / "deep", tmp_path / "b" / "before"):
        assert main(["report", str(ride), "--out", str(out)]) == 1
        assert main(["export", str(ride), "--out", str(out)]) == 1
    assert content(ride) == before
    with pytest.raises(FolderError):
        refuse_rides(ride / "Stock", ride, ("stock",))


def test_own_tables_are_not_read_as_rides(tmp_path: Path) -> None:
    ride = ride_in(tmp_path / "ride")
    assert main(["report", str(ride)]) == 0
    assert main(["export", str(ride)]) == 0
    plain = read_folder(ride)
    tables = [*(ride / "report").glob("*.csv"), *(ride / "report" / "export").glob("*.csv")]
    for number, path in enumerate(tables):
        text = path.read_text("utf-8")
        (ride / "before" / f"x{number}.csv").write_text(text)
        (ride / "before" / f"y{number}.csv").write_text("\ufeff" + text.replace(",", ";"))
    assert len(tables) == 12
    found = read_folder(ride)
    assert [[r.file for r in setup.recordings] for setup in found.setups] == [
        [r.file for r in setup.recordings] for setup in plain.setups
    ]
    assert len(found.notes) == 24
    assert "Left aside: before/x0.csv (written by gearfit, not read as a ride)." in found.notes


def test_a_run_without_positions_removes_what_earlier_ones_wrote(tmp_path: Path) -> None:
    ride = ride_in(tmp_path / "ride")
    report = ride / "report"
    (report / "export").mkdir(parents=True)
    track = '<?xml version="1.0"?>\n<gpx xmlns:gearfit="urn:gearfit:ride:1"></gpx>'
    (report / "export" / "track_before.gpx").write_text(track)
    (report / "track_mine.gpx").write_text("<gpx></gpx>")
    (report / "watch.html").write_text("<html><head><title>A: gearing report</title>")
    assert main(["report", str(ride), "--no-positions"]) == 0
    assert not (report / "export" / "track_before.gpx").exists()
    assert not (report / "watch.html").exists()
    assert (report / "track_mine.gpx").exists()


def test_a_list_that_names_places_outside_removes_nothing(tmp_path: Path) -> None:
    (tmp_path / "ride.gpx").write_text("x")
    (tmp_path / "report").mkdir()
    made = digest(tmp_path / "ride.gpx")
    (tmp_path / "report" / LIST).write_text(
        '{"schema": "gearfit-files-1", "files": {"../ride.gpx": ["report", "' + made + '"]}}'
    )
    write(tmp_path / "report", "new")
    assert (tmp_path / "ride.gpx").exists()


def test_unchanged_means_every_file_and_a_damaged_record_ends_nothing(tmp_path: Path) -> None:
    ride = ride_in(tmp_path / "ride")
    task = Task(str(ride), "ride", "kmh", None, positions=False)
    assert not work(task).unchanged
    assert work(task).unchanged
    assert main(["report", str(ride), "--units", "mph"]) == 0
    assert not work(task).unchanged
    (ride / "report" / "summary.png").unlink()
    assert not work(task).unchanged
    record = ride / "report" / "batch.json"
    good = record.read_text()
    for damaged in ("", "[]", '{"content": 3}', good.replace('"rows"', '"rwos"'), good.replace('"status"', '"x"')):
        record.unlink()
        record.write_text(damaged)
        done = work(task)
        assert not done.unchanged
        assert {row["status"] for row in done.rows} == {"reported"}, damaged


def _die(task: Task) -> Any:
    os._exit(1) if task.ride == "ride 3" else None
    return work(task)


def test_a_ride_whose_process_dies_is_blamed_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from gearfit.batch import run as runner

    monkeypatch.setattr(runner, "work", _die)
    tasks = []
    for number in range(8):
        folder = tmp_path / f"ride {number}" / "before"
        folder.mkdir(parents=True)
        (folder / "timed.csv").write_text("from_kmh,to_kmh,time_s\n0,100,6.2\n")
        tasks.append(Task(str(folder.parent), f"ride {number}", "kmh", None))
    found = dict(run_here(tasks, 2))
    assert [found[place].rows[0]["status"] for place in range(8)] == ["reported"] * 3 + ["failed"] + ["reported"] * 4


def test_export_refuses_a_table_of_the_report(tmp_path: Path) -> None:
    ride = ride_in(tmp_path / "ride")
    assert main(["report", str(ride)]) == 0
    before = content(ride)
    assert main(["export", str(ride), "--out", str(ride / "report")]) == 1
    assert content(ride) == before
    with pytest.raises(InputError, match="a file of `gearfit report` stands in this place"):
        refuse_foreign(ride / "report", ["gears.csv"], "export")
