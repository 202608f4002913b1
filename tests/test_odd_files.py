"""What is no file is named and not read; what the system refuses is one line; headers that lie."""

from __future__ import annotations

import os
import socket
import struct
import subprocess
import sys
from pathlib import Path
from typing import NoReturn

import numpy as np
import pytest

import gearfit
from gearfit.commands.cli import main
from gearfit.errors import BikeFileError, FolderError, LogError
from gearfit.importers import read_log
from gearfit.importers.common.options import ReadOptions
from gearfit.machine.bike import Bike, Engine
from tests.faults.programs import REPOSITORY, run
from tests.faults.test_whole_files import ride_in
from tests.importers.gpx_text import GPX_11, northward

ODD = "this is a folder, a pipe or a device"
COMMAND = "import sys; from gearfit.commands.cli import main; sys.exit(main(sys.argv[1:]))"

unix = pytest.mark.skipif(sys.platform == "win32", reason="the system has no named pipes")


@pytest.fixture
def ride(tmp_path: Path) -> Path:
    """A ride folder with a pipe among the logs of a setup, a flat one, and one in the place of bike.toml."""
    ride = ride_in(tmp_path / "rides" / "ride")
    for place in ("before/pipe", "after_pipe.csv", "bike.toml"):
        os.mkfifo(ride / place)
    return ride


@unix
@pytest.mark.parametrize("command", [("report",), ("batch", "--jobs", "1")])
def test_pipes_in_a_folder_are_named_and_not_read(command: tuple[str, ...], ride: Path) -> None:
    where = ride if command == ("report",) else ride.parent
    code, _, err = run(COMMAND, *command, str(where))
    assert (code, err) == (0, "")
    assert gearfit.read_folder(ride).notes == (
        "Left aside: bike.toml (a pipe or a device; only files are read).",
        "Left aside: after_pipe.csv (a pipe or a device; only files are read).",
        "Left aside: before/pipe (a pipe or a device; only files are read).",
    )


@unix
def test_check_names_what_is_no_file(ride: Path) -> None:
    address = str(ride / "s")
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(address)
        code, out, err = run(COMMAND, "check", str(ride / "before" / "pipe"), "/dev/zero", address, str(ride / "after"))
    assert (code, out) == (1, "")
    rest = "this is a folder, a pipe or a device; allowed is a file. Copy the log into a file."
    assert err.splitlines() == [
        f"gearfit: pipe: {rest}",
        f"gearfit: zero: {rest}",
        f"gearfit: s: {rest}",
        f"gearfit: after: {rest}",
    ]


@unix
def test_a_bike_file_that_is_a_pipe(ride: Path) -> None:
    code, _, err = run(COMMAND, "predict", str(ride / "bike.toml"), "--front", "13")
    assert code == 1
    assert err == f"gearfit: bike.toml: {ODD}; allowed is a file. Write it anew, or remove it.\n"
    with pytest.raises(BikeFileError):
        gearfit.read_bike(ride / "bike.toml")


@unix
def test_a_link_to_a_file_is_read_and_one_in_a_circle_is_named(tmp_path: Path) -> None:
    ride = ride_in(tmp_path / "ride")
    (ride / "before" / "holds.csv").rename(ride / ".holds")
    (ride / "before" / "linked.csv").symlink_to(ride / ".holds")
    (ride / "before" / "round.csv").symlink_to(ride / "before" / "round.csv")
    folder = gearfit.read_folder(ride)
    assert [recording.file for recording in folder.setups[0].recordings] == ["before/linked.csv"]
    (note,) = folder.notes
    assert note.startswith("Left aside: before/round.csv")


def refused(*_: object, **__: object) -> NoReturn:
    raise PermissionError(13, "Permission denied", "/somewhere")


def test_a_folder_that_cannot_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ride = ride_in(tmp_path / "ride")
    monkeypatch.setattr(Path, "iterdir", refused)
    with pytest.raises(FolderError) as caught:
        gearfit.read_folder(ride)
    assert str(caught.value) == f"{ride}: the folder cannot be read (Permission denied). Check its permissions."


def test_whatever_the_system_refuses_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(Path, "exists", refused)
    assert main(["report", str(tmp_path)]) == 1
    assert capsys.readouterr().err == (
        "gearfit: /somewhere: cannot be read or written (Permission denied). Check the path, its permissions and the "
        "free space.\n"
    )


@unix
def test_batch_names_a_folder_that_cannot_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from gearfit.batch.find import ride_folders

    ride_in(tmp_path / "ride")
    (tmp_path / "locked").mkdir()
    scan = os.scandir

    def locked(path: str) -> object:
        if str(path).endswith("locked"):
            raise PermissionError(13, "Permission denied", str(path))
        return scan(path)

    monkeypatch.setattr(os, "scandir", locked)
    assert ride_folders(tmp_path) == [tmp_path / "locked", tmp_path / "ride"]


@unix
@pytest.mark.parametrize("ending", [">&-", "2>&-", ">&- 2>&-", "| head -1", ">/dev/full"])
@pytest.mark.parametrize("command", ["report", "check", "predict"])
def test_output_that_nobody_reads(command: str, ending: str, tmp_path: Path) -> None:
    ride = ride_in(tmp_path / "ride")
    what = ride / "before" / "holds.csv" if command == "check" else ride
    (ride / "bike.toml").write_text(
        "[final_drive]\nfront = 14\nrear = 43\n[setups.before]\n[setups.after]\nfront = 13\n"
    )
    line = f'"{sys.executable}" -m gearfit {command} "{what}" {ending}'
    done = subprocess.run(
        ["bash", "-c", line], capture_output=True, text=True, env=os.environ | {"PYTHONPATH": str(REPOSITORY)}
    )
    said = "gearfit: the output: cannot be read or written (No space left on device). Check the path, its permissions"
    assert done.stderr == (f"{said} and the free space.\n" if ending == ">/dev/full" else "")
    assert done.returncode == (1 if ending == ">/dev/full" else 0)


@pytest.mark.parametrize("digits", [300, 308, 400, 5000])
def test_heights_of_hundreds_of_digits(digits: int, tmp_path: Path) -> None:
    points = [*northward(30)]
    points[5] = points[5].replace("<ele>", f"<ele>{'9' * digits}<!-- ", 1).replace("</ele>", " --></ele>", 1)
    assert "9" * digits in points[5]
    (tmp_path / "a.gpx").write_text(f"{GPX_11}<trk><trkseg>{''.join(points)}</trkseg></trk></gpx>", "utf-8")
    recording = read_log(tmp_path / "a.gpx")
    heights = recording.samples["elevation_m"]
    assert np.isnan(heights[5])
    assert heights.drop(5).notna().all()
    assert sum(note.startswith("Point 6: ") for note in recording.notes) == 1


def wav(**lies: int) -> bytes:
    """A second of a tone, 16 bit, one channel, under a header in which some entries are others."""
    rate_hz = 8000
    data = (9000 * np.sin(2 * np.pi * 100 * np.arange(2 * rate_hz) / rate_hz)).astype("<i2").tobytes()
    true = {"coding": 1, "channels": 1, "rate": rate_hz, "bytes": 2 * rate_hz, "frame": 2, "bits": 16}
    stated = true | {key: value for key, value in lies.items() if key in true}
    size, whole = lies.get("size", len(data)), lies.get("whole", 36 + len(data))
    header = struct.pack("<HHIIHH", *stated.values())
    return b"".join(
        (b"RIFF", struct.pack("<I", whole), b"WAVEfmt ", struct.pack("<I", lies.get("header", 16)), header, b"data")
    ) + b"".join((struct.pack("<I", size), data))


LIES = [
    {"coding": 0},
    {"coding": 2},
    {"coding": 85},
    {"channels": 0},
    {"channels": 0, "frame": 0},
    {"channels": 3, "frame": 6, "bytes": 48000},
    {"frame": 0, "bytes": 0},
    {"frame": 4},
    {"frame": 4, "bytes": 32000},
    {"frame": 65535, "bytes": 8000 * 65535},
    {"bits": 0},
    {"bits": 7},
    {"bits": 65535},
    {"size": 1},
    {"whole": 0},
    {"header": 0},
    {"header": 18},
    {"header": 2**32 - 1},
]


@pytest.mark.parametrize("lies", LIES, ids=str)
def test_a_sound_whose_header_lies(lies: dict[str, int], tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(wav(**lies))
    with pytest.raises(LogError) as caught:
        read_log(tmp_path / "a.wav", options=ReadOptions.of(Bike(engine=Engine(cylinders=1, strokes=4))))
    message = str(caught.value)
    assert message.startswith("a.wav: the WAV file is damaged or coded in another way (its header states ")
    for word in ("variable", "array", "buffer", "zero", "data type", "reshape", "unpack"):
        assert word not in message


def test_the_sound_is_good_but_for_its_lies(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(wav())
    assert len(
        read_log(tmp_path / "a.wav", options=ReadOptions.of(Bike(engine=Engine(cylinders=1, strokes=4)))).samples
    )


@pytest.mark.parametrize("row", ["0,10", "0", "1,2,3"])
def test_rows_that_are_all_too_short(row: str, tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("time_s,speed_kmh,rpm,gear\n" + f"{row}\n" * 3, "utf-8")
    cells = row.count(",") + 1
    with pytest.raises(LogError) as caught:
        read_log(tmp_path / "a.csv")
    assert str(caught.value) == (
        f"a.csv: no row has more than {cells} cell{'s' * (cells > 1)} below a header of 4; which column is missing "
        "cannot be told; allowed are rows as long as the header, with nothing between delimiters where a value is "
        "missing. Fill up the rows, or take the headers away that have no values."
    )


@pytest.mark.parametrize("rows", ['1,4000,"30\n2,5000,40\n', '1,4000,30\n"2,5000,40\n3,6000,50\n'])
def test_a_quotation_mark_that_is_open_is_still_said(rows: str, tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(f"gear,rpm,speed_kmh\n{rows}", "utf-8")
    with pytest.raises(LogError) as caught:
        read_log(tmp_path / "a.csv")
    assert "a quotation mark is opened and never closed" in str(caught.value)
