"""Each file is whole or not there: full disk, kill, read-only folder, two processes at once."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from gearfit.commands.cli import main
from gearfit.commands.new_folder import make_folder
from gearfit.errors import InputError
from gearfit.report import write_report
from gearfit.whole_files import write_together, write_whole
from tests.faults.programs import content, run, start
from tests.report import example


def mounted(folder: Path, *options: str) -> Iterator[Path]:
    """Mount an empty file system in memory, which only the super-user may; skips where it is not possible."""
    done = subprocess.run(["mount", "-t", "tmpfs", *options, "tmpfs", str(folder)], capture_output=True, text=True)
    if done.returncode:
        pytest.skip(f"no file system can be mounted here: {done.stderr.strip()}")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    yield from mounted(tmp_path, "-o", "size=1500k")


def test_a_full_disk_leaves_the_older_report_whole(small_disk: Path) -> None:
    report = small_disk / "report"
    write_report(example.without_gears(), report)
    before = content(small_disk)
    with pytest.raises(InputError) as caught:
        write_report(example.two_setups(), report)
    assert str(caught.value) == (
        f"{report}: the report cannot be written (No space left on device). Free the place, or say where to write with "
        "--out."
    )
    assert content(small_disk) == before


WRITE_LIMITED = """
import resource, sys
from gearfit.commands.cli import main
resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))
sys.exit(main(["report", sys.argv[1]]))
"""


def test_a_write_that_the_system_refuses_half_way(tmp_path: Path) -> None:
    """A limit on the size of a file stops the picture after the tables are written, for any user."""
    ride = ride_in(tmp_path / "ride")
    write_whole(ride / "report" / "report.html", "older report")
    code, out, err = run(WRITE_LIMITED, str(ride))
    assert (code, out) == (1, "")
    assert err == (
        f"gearfit: {ride / 'report'}: the report cannot be written (File too large). Free the place, or say where to "
        "write with --out.\n"
    )
    assert content(ride / "report") == {"report.html": b"older report"}


def ride_in(folder: Path) -> Path:
    """Two small sheets, before and after one tooth less in front."""
    for name, factor in (("before", 1.0), ("after", 13 / 14)):
        rows = [f"{gear},{rpm},{factor * gear * rpm / 250:.1f}" for gear in (1, 2, 3) for rpm in (4000, 5000, 6000)]
        write_whole(folder / name / "holds.csv", "gear,rpm,speed_kmh\n" + "\n".join(rows) + "\n")
    return folder


HALF_WAY = """
import sys, time
from gearfit.report import write_report
from tests.report import example

def step(label):
    if label == "summary picture":
        print("half-way", flush=True)
        time.sleep(60)

write_report(example.two_setups(), sys.argv[1], progress=step)
"""


def test_killed_half_way_the_older_report_is_whole_and_the_next_run_clears_up(tmp_path: Path) -> None:
    write_report(example.without_gears(), tmp_path)
    before = content(tmp_path)
    process = start(HALF_WAY, str(tmp_path))
    assert process.stdout is not None
    assert process.stdout.readline() == "half-way\n", process.stderr and process.stderr.read()
    process.kill()
    process.communicate()
    assert process.returncode == -signal.SIGKILL
    after = content(tmp_path)
    assert {name: data for name, data in after.items() if "/" not in name} == before
    assert any(name.startswith(".unfinished-") for name in after), "it had begun"
    written = write_report(example.without_gears(), tmp_path)
    assert content(tmp_path) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([*written, ".gearfit.json"])


def test_a_folder_that_another_process_still_works_in_is_left_alone(tmp_path: Path) -> None:
    def other_process(workshop: Path) -> list[str]:
        (workshop / "a.txt").write_text("a")
        write_whole(tmp_path / "b.txt", "b")
        assert (workshop / "a.txt").is_file()
        return ["a.txt"]

    assert write_together(tmp_path, other_process) == [tmp_path / "a.txt"]
    assert content(tmp_path) == {"a.txt": b"a", "b.txt": b"b"}


MANY = """
import sys
from pathlib import Path
from gearfit.whole_files import write_together

def make(workshop):
    for name in "abcdef":
        (workshop / name).write_text(sys.argv[2])
    return list("abcdef")

for _ in range(150):
    write_together(Path(sys.argv[1]), make)
"""


def test_two_processes_on_one_folder_never_mix_their_files(tmp_path: Path) -> None:
    processes = [start(MANY, str(tmp_path), word) for word in ("one", "two")]
    for process in processes:
        assert process.communicate(timeout=60)[1] == ""
        assert process.returncode == 0
    found = content(tmp_path)
    assert list(sorted(found)) == list("abcdef")
    assert len(set(found.values())) == 1


def test_two_reports_on_one_folder(tmp_path: Path) -> None:
    ride = tmp_path / "ride"
    write_whole(ride / "before" / "timed.csv", "from_kmh,to_kmh,time_s\n0,100,6.2\n")
    command = "import sys; from gearfit.commands.cli import main; sys.exit(main(sys.argv[1:]))"
    processes = [start(command, "report", str(ride)) for _ in range(2)]
    assert [process.communicate(timeout=120)[1] for process in processes] == ["", ""]
    assert [process.returncode for process in processes] == [0, 0]
    together = content(ride / "report")
    assert main(["report", str(ride), "--out", str(tmp_path / "alone")]) == 0
    assert together == content(tmp_path / "alone")


@pytest.fixture
def read_only(tmp_path: Path) -> Iterator[Path]:
    """A ride in a folder that nobody can write to."""
    ride = ride_in(tmp_path / "ride")
    if os.geteuid():
        ride.chmod(0o555)
        yield ride
        ride.chmod(0o755)
        return
    for folder in mounted(ride):
        ride_in(folder)
        subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
        yield folder


def test_a_read_only_folder_is_one_clear_line(read_only: Path, tmp_path: Path) -> None:
    from gearfit.errors import FolderError

    why = os.strerror(errno.EACCES if os.geteuid() else errno.EROFS)
    before = content(read_only)
    with pytest.raises(InputError) as caught:
        write_report(example.without_gears(), read_only / "report")
    assert str(caught.value) == (
        f"{read_only / 'report'}: the report cannot be written ({why}). Free the place, or say where to write with "
        "--out."
    )
    with pytest.raises(FolderError) as refused:
        make_folder(read_only / "new")
    assert (
        str(refused.value) == f"{read_only / 'new'}: cannot be written to ({why}). Check the path and its permissions."
    )
    assert main(["report", str(read_only), "--out", str(tmp_path / "elsewhere")]) == 0
    assert content(read_only) == before


def test_a_folder_in_the_place_of_a_file_stops_before_anything_is_replaced(tmp_path: Path) -> None:
    write_whole(tmp_path / "results.json", "older")
    (tmp_path / "report.html").mkdir()
    with pytest.raises(InputError) as caught:
        write_report(example.without_gears(), tmp_path)
    assert str(caught.value) == (
        f"{tmp_path}: the report cannot be written (a folder stands in the place of report.html). Free the place, or "
        "say where to write with --out."
    )
    assert content(tmp_path) == {"results.json": b"older"}


def test_a_new_ride_folder_is_made_whole_or_not_at_all(small_disk: Path) -> None:
    filler = small_disk / "filler"
    with pytest.raises(OSError, match="No space left"):
        filler.write_bytes(b"x" * 2_000_000)
    with filler.open("r+b") as file:
        file.truncate(filler.stat().st_size - 4096)
    with pytest.raises(InputError, match="No space left on device"):
        make_folder(small_disk / "ride")
    assert list(content(small_disk)) == ["filler"]
    filler.unlink()
    assert len(make_folder(small_disk / "ride")) == 7
