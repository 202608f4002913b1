"""Parts of the work in two processes: the same results, whatever becomes of the second one."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import gearfit
from gearfit.second_process import second_process

REPOSITORY = Path(__file__).resolve().parents[1]
RIDES = REPOSITORY / "sample_logs" / "no-papers"
WAYS = pytest.mark.parametrize("copied", [True, False] if sys.platform == "linux" else [False])

#: Run as the main program, which a process that begins anew imports again under another name.
PROGRAM = """
import os, signal, sys, time
from pathlib import Path

from gearfit import second_process as second
from gearfit.errors import LogError

second.COPIED, second._processors = {copied}, lambda: 2
MAIN, PLACE = int(os.environ.setdefault("MAIN", str(os.getpid()))), Path(sys.argv[1])


def elsewhere():
    return os.getpid() != MAIN


def wait_for(name):
    for _ in range(3000):
        if (PLACE / name).exists():
            return
        time.sleep(0.01)
    raise TimeoutError(name)


def square(part):
    '''Hold this process up until the other one has done the last part.'''
    if elsewhere():
        (PLACE / "second").touch()
    else:
        wait_for("second")
    return part**2


def fail(part):
    if part == 3:
        (PLACE / "second").touch()
        raise LogError("a.csv", "nothing in it", "Record again")
    return square(part)


def end(part):
    if elsewhere():
        (PLACE / "second").touch()
        os.kill(os.getpid(), signal.SIGTERM)
    wait_for("second")
    return part**2


def report(folder, out):
    from gearfit.commands.cli import main

    assert main(["report", folder, "--out", out, "--quiet"]) == 0


def left_alone(part):
    if not elsewhere():
        wait_for("second")
        os.kill(os.getpid(), signal.SIGKILL)
    (PLACE / "second").touch()
    time.sleep(0.1)


if __name__ == "__main__":
    {statement}
"""


def run(folder: Path, statement: str, *, copied: bool) -> subprocess.CompletedProcess[str]:
    program = folder / "program.py"
    program.write_text(PROGRAM.format(copied=copied, statement=statement), "utf-8")
    return subprocess.run(
        [sys.executable, program, folder],
        capture_output=True,
        text=True,
        timeout=60,
        env=os.environ | {"PYTHONPATH": str(REPOSITORY), "OPENBLAS_NUM_THREADS": "1"},
    )


def map_of(function: str) -> str:
    return f"with second.second_process() as each: print(*each({function}, range(4)), *each(abs, [-1, -2]))"


@WAYS
@pytest.mark.parametrize("function", ["square", "end"])
def test_results_come_in_order_from_both_and_also_where_the_second_is_ended(
    tmp_path: Path, function: str, copied: bool
) -> None:
    done = run(tmp_path, map_of(function), copied=copied)
    assert (done.stdout, done.stderr) == ("0 1 4 9 1 2\n", "")
    assert (tmp_path / "second").exists()


@WAYS
def test_an_error_there_is_raised_here(tmp_path: Path, copied: bool) -> None:
    done = run(tmp_path, map_of("fail"), copied=copied)
    assert done.stdout == ""
    assert done.stderr.splitlines()[-1] == "gearfit.errors.LogError: a.csv: nothing in it. Record again."
    assert done.stderr.count("Traceback") == 1


@WAYS
def test_where_the_first_process_is_killed_the_second_ends(tmp_path: Path, copied: bool) -> None:
    done = run(tmp_path, map_of("left_alone"), copied=copied)  # returns once nobody holds its output any more
    assert (done.returncode, done.stdout, done.stderr) == (-signal.SIGKILL, "", "")


def test_one_processor_does_without() -> None:
    with second_process() as each:
        assert each is map


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a report that one process wrote."""
    out = tmp_path_factory.mktemp("alone")
    gearfit.write_report(gearfit.analyse(gearfit.read_folder(RIDES)), out)
    return out


@WAYS
def test_the_report_of_two_processes_is_that_of_one(tmp_path: Path, alone: Path, copied: bool) -> None:
    out = tmp_path / "report"
    done = run(tmp_path, f"report({str(RIDES)!r}, {str(out)!r})", copied=copied)
    assert (done.returncode, done.stderr) == (0, "")
    assert {path.name: path.read_bytes() for path in out.iterdir()} == {
        path.name: path.read_bytes() for path in alone.iterdir()
    }
