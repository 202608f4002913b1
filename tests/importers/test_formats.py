"""Which format a file has is decided by its content alone, and exactly one format says yes."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearfit.errors import LogError
from gearfit.importers import ReadOptions, read_log
from gearfit.importers.common import content as content_module
from gearfit.importers.common.content import read_content
from gearfit.importers.formats import FORMATS
from tests.importers.conftest import Read
from tests.importers.gpx_text import gpx, northward
from tests.importers.nmea_text import rmc

SAMPLES = {
    "a GPX track": gpx(northward(3)),
    "sentences": rmc(0, 10.0) + rmc(1, 11.0),
    "a log": "time_s,rpm\n0,1000\n",
    "a sheet": "gear;rpm;speed_kmh\n1;3000;20\n",
    "runs": "from_kmh,to_kmh,time_s\n0,100,6\n",
}
ALLOWED = (
    "allowed is a GPX track, NMEA sentences of a satellite receiver, a WAV or FLAC recording of the engine's sound or "
    "delimited text with a header such as time_s, speed_kmh, rpm, gear, from_kmh, to_kmh or indicated_kmh. "
    "Export the ride again, name the columns in the first line, or remove the file."
)


@pytest.mark.parametrize("label", SAMPLES)
@pytest.mark.parametrize("name", ["ride", "ride.gpx", "ride.csv", "ride.png"])
def test_exactly_one_format_recognises_a_file_whatever_its_name(tmp_path: Path, label: str, name: str) -> None:
    path = tmp_path / name
    path.write_text(SAMPLES[label])
    assert [entry.recognise(read_content(path, name), ReadOptions()) for entry in FORMATS].count(True) == 1
    assert read_log(path).file == name


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (bytes(range(256)), "a binary file"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "a binary file"),
        (b'{"time": 1, "rpm": 3}', "a JSON document"),
        (b"<!DOCTYPE html><html></html>", "a web page"),
        (b"<html><table><tr><td>rpm</td></tr></table></html>", "a web page"),
    ],
)
def test_no_log(read: Read, content: bytes, found: str) -> None:
    with pytest.raises(LogError) as caught:
        read(content, "a.csv")
    assert str(caught.value) == f"a.csv: this is no log but {found}; {ALLOWED}"


@pytest.mark.parametrize(
    ("content", "begins"),
    [
        (b"Went for a ride today, it was sunny.\n", "'Went for a ride today, it was sunny.'"),
        (b"\n1,2,3\n4,5,6\n", "'1,2,3'"),
        (b"x" * 100, "'" + "x" * 57 + "...'"),
    ],
)
def test_a_text_that_is_no_sheet_is_told_how_one_begins(read: Read, content: bytes, begins: str) -> None:
    with pytest.raises(LogError) as caught:
        read(content, "a.csv")
    assert str(caught.value) == (
        f"a.csv: no line names the columns, and the text begins {begins}. Write gear,rpm,speed_kmh (or speed_mph) "
        "above the readings, from_kmh,to_kmh,time_s above timed runs, or a line such as 3rd 5000 rpm 50 mph for each; "
        "export a log again with its header."
    )


@pytest.mark.parametrize("content", [b"", b"\n\n  \n", b"\xef\xbb\xbf", b"\xff\xfe"])
def test_an_empty_file(read: Read, content: bytes) -> None:
    with pytest.raises(LogError) as caught:
        read(content, "a.gpx")
    assert str(caught.value) == "a.gpx: the file is empty. Save the log or sheet again, or remove the file."


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(LogError) as caught:
        read_log(tmp_path / "a.gpx")
    assert str(caught.value) == (
        "a.gpx: the file cannot be read (No such file or directory). Check its name and its permissions."
    )


def test_a_file_beyond_the_limit(read: Read, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(content_module, "SIZE_LIMIT_MB", 1)
    with pytest.raises(LogError) as caught:
        read(b"x" * 2_000_000, "a.csv")
    assert str(caught.value) == "a.csv: the file has 2 MB; allowed is up to 1 MB. Split it, one ride a file."


def test_the_name_given_is_the_name_told(tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_text("time_s,rpm\n0,1000\n")
    recording = read_log(path, "before/x")
    assert recording.file == "before/x"
    assert recording.samples["file"].tolist() == ["before/x"]
