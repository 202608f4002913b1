"""Every ride folder below a root: found, done once, one that fails stops none, a lost process loses nothing."""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import signal
from pathlib import Path

import pandas as pd
import pytest

from gearfit.batch import work as worker
from gearfit.batch.find import content_hash, ride_folders
from gearfit.batch.run import run_here, run_on_cluster
from gearfit.batch.summary import page_text
from gearfit.batch.work import Task
from gearfit.commands.cli import main
from gearfit.report.figures.drawn import KINDS
from gearfit.whole_files import write_whole
from tests.benchmarks.rides import write_ride
from tests.faults.programs import content
from tests.faults.test_whole_files import ride_in


def rows_in(root: Path) -> list[dict[str, str]]:
    with (root / "summary.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two good folders at different depths and one that cannot be read, all reported once."""
    root = tmp_path_factory.mktemp("archive")
    ride_in(root / "2025" / "spring ride")
    ride_in(root / "autumn")
    (root / "autumn" / "bike.toml").write_text(
        'name = "=1+1 <b>"\n[final_drive]\nrear = 43\n[setups.before]\nfront = 14\n[setups.after]\nfront = 13\n'
    )
    (root / "broken" / "before").mkdir(parents=True)
    (root / "broken" / "before" / "x.csv").write_text("nothing\n")
    (root / "notes").mkdir()
    assert main(["batch", str(root), "--jobs", "2", "--parquet", "--quiet"]) == 1
    return root


def test_every_ride_folder_is_found_and_nothing_within_one(archive: Path) -> None:
    names = [folder.relative_to(archive).as_posix() for folder in ride_folders(archive)]
    assert names == ["2025/spring ride", "autumn", "broken"]
    assert ride_folders(archive / "autumn") == [archive / "autumn"]


def test_the_table_holds_a_row_for_each_setup_and_each_failure(archive: Path) -> None:
    rows = rows_in(archive)
    assert [(row["ride"], row["setup"], row["status"]) for row in rows] == [
        ("2025/spring ride", "before", "reported"),
        ("2025/spring ride", "after", "reported"),
        ("autumn", "before", "reported"),
        ("autumn", "after", "reported"),
        ("broken", "", "failed"),
    ]
    change = float(rows[1]["change_percent"])
    assert change == pytest.approx(100 * (13 / 14 - 1), abs=0.2)
    assert float(rows[1]["change_percent_lo95"]) < change < float(rows[1]["change_percent_hi95"])
    assert rows[1]["change_verdict"] == ""
    assert (rows[3]["predicted_percent"][:5], rows[3]["change_verdict"]) == ("-7.14", "agree")
    assert rows[2]["bike"] == "'=1+1 <b>", "no formula for a spreadsheet"
    assert rows[4]["message"].startswith("before/x.csv: no line names the columns, and the text begins 'nothing'.")
    table = pd.read_parquet(archive / "summary.parquet")
    assert table["change_percent"].tolist()[1] == change
    page = (archive / "index.html").read_text("utf-8")
    assert 'href="./2025/spring%20ride/report/report.html"' in page
    assert "=1+1 &lt;b&gt;" in page


def test_what_has_not_changed_is_not_done_again(
    archive: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    before = content(archive)
    page = archive / "autumn" / "report" / "report.html"
    written = page.stat().st_mtime_ns
    assert main(["batch", str(archive), "--jobs", "1", "--parquet"]) == 1
    assert page.stat().st_mtime_ns == written
    out = capsys.readouterr().out.splitlines()
    assert out[0] == "3 ride folders: 0 reported, 2 unchanged, 1 failed"
    assert content(archive) == before
    page.unlink()
    assert main(["batch", str(archive), "--jobs", "1", "--parquet"]) == 1
    assert capsys.readouterr().out.startswith("3 ride folders: 1 reported, 1 unchanged, 1 failed")
    assert content(archive) == before


def test_the_hash_follows_content_names_and_what_is_asked(tmp_path: Path) -> None:
    ride = ride_in(tmp_path / "ride")
    first = content_hash(ride, "kmh")
    assert content_hash(ride, "mph") != first
    shutil.copytree(ride, tmp_path / "copy")
    assert content_hash(tmp_path / "copy", "kmh") == first
    (ride / "report").mkdir()
    (ride / "report" / "x").touch()
    assert content_hash(ride, "kmh") == first
    (ride / "before" / "holds.csv").rename(ride / "before" / "other.csv")
    assert content_hash(ride, "kmh") != first


def test_a_fault_of_our_own_is_a_row_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise ZeroDivisionError("planned")

    monkeypatch.setattr(worker, "analyse", fail)
    done = worker.work(Task(str(ride_in(tmp_path)), "ride", "kmh", None))
    assert done.rows[0]["message"] == "a fault of gearfit, ZeroDivisionError: planned"


def test_no_positions_leave_none_in_any_file_of_any_ride(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ride = write_ride(tmp_path / "club" / "ride", 1)
    root = ride.parent
    logs = content(ride)
    assert main(["batch", str(root), "--jobs", "1"]) == 0
    page = ride / "report" / "report.html"
    title = {kind.name: kind.title for kind in KINDS}["track-picture"]
    assert title in page.read_text("utf-8")
    assert main(["batch", str(root), "--jobs", "1", "--parquet", "--no-positions"]) == 0
    counts = [line for line in capsys.readouterr().out.splitlines() if " folder: " in line]
    assert counts == ["1 ride folder: 1 reported, 0 unchanged, 0 failed"] * 2, "another option is another report"
    assert title not in page.read_text("utf-8")
    places = {place for log in logs.values() for place in re.findall(rb'(?:lat|lon)="(-?[0-9.]{8,})"', log)}
    assert len(places) > 100
    written = {name: data for name, data in content(root).items() if name.removeprefix("ride/") not in logs}
    assert {"summary.csv", "summary.parquet", "index.html", "ride/report/batch.json"} <= set(written)
    assert [(name, place) for name, data in written.items() for place in places if place in data] == []


def tasks_in(root: Path, n: int) -> list[Task]:
    """Folders of one timed run each, whose reports have few pictures: what is tested is what becomes of the folders."""
    for number in range(n):
        write_whole(root / f"ride {number}" / "before" / "timed.csv", "from_kmh,to_kmh,time_s\n0,100,6.2\n")
    return [Task(str(root / f"ride {number}"), f"ride {number}", "kmh", None) for number in range(n)]


def reported(tasks: list[Task]) -> int:
    return sum((Path(task.folder) / "report" / "report.html").is_file() for task in tasks)


def test_a_worker_of_this_machine_killed_half_way_loses_nothing(tmp_path: Path) -> None:
    psutil = pytest.importorskip("psutil", reason="comes with distributed")
    tasks = tasks_in(tmp_path, 7)
    results = run_here(tasks, 2)
    first = next(results)
    workers = [child for child in psutil.Process().children() if "LokyProcess" in " ".join(child.cmdline())]
    workers[0].send_signal(signal.SIGKILL)
    assert reported(tasks) < len(tasks)
    found = dict([first, *results])
    assert sorted(found) == list(range(len(tasks)))
    assert {row["status"] for done in found.values() for row in done.rows} == {"reported"}
    assert reported(tasks) == len(tasks)


@pytest.mark.filterwarnings("default")
def test_a_worker_of_a_cluster_killed_half_way_loses_nothing(tmp_path: Path) -> None:
    from distributed import LocalCluster

    tasks = tasks_in(tmp_path, 7)
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        results = run_on_cluster(tasks, cluster.scheduler_address)
        first = next(results)
        victim = next(iter(cluster.workers.values()))
        os.kill(victim.pid, signal.SIGKILL)
        assert reported(tasks) < len(tasks)
        found = dict([first, *results])
    assert sorted(found) == list(range(len(tasks)))
    assert {row["status"] for done in found.values() for row in done.rows} == {"reported"}
    assert reported(tasks) == len(tasks)


def test_messages_of_a_batch(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["batch", str(tmp_path)]) == 1
    assert capsys.readouterr().err == (
        f"gearfit: {tmp_path}: found no ride folder below it. A ride folder holds bike.toml, or before and after.\n"
    )
    ride_in(tmp_path / "ride")
    assert main(["batch", str(tmp_path), "--jobs", "0"]) == 1
    assert capsys.readouterr().err == "gearfit: --jobs: found 0; allowed is 1 or more. Correct it or leave it out.\n"


def test_the_page_keeps_the_numbers_that_its_script_sorts_by(archive: Path) -> None:
    record = json.loads((archive / "autumn" / "report" / "batch.json").read_text("utf-8"))
    page = page_text(record["rows"], {row["ride"]: "./there" for row in record["rows"]})
    assert f'data-key="{record["rows"][1]["change_percent"]}"' in page
    assert "<script>(function ()" in page


def test_every_column_is_explained() -> None:
    from gearfit.batch.rows import COLUMNS

    text = (Path(__file__).parents[2] / "docs" / "batch.md").read_text("utf-8")
    cells = "".join(line.split("|")[1] for line in text.splitlines() if line.startswith("| `"))
    assert re.findall(r"`(\w+)`", cells) == list(COLUMNS)
