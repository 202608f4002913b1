"""Files from strangers: nothing is expanded, fetched, followed out of the folder, run or written raw."""

from __future__ import annotations

import csv
import shutil
import socket
from pathlib import Path
from typing import NoReturn

import pytest

import gearfit
from gearfit.commands.cli import main
from gearfit.errors import BikeFileError, FolderError, LogError
from gearfit.importers import read_log, report_folder
from gearfit.importers.common import content
from tests.importers.gpx_text import GPX_11, northward, point, second

SAMPLES = Path(__file__).parents[1] / "sample_logs"
DECLARATION = (
    "the file has a DOCTYPE or entity declaration, which no GPX track has and which is never expanded. Export the "
    "track again from the recorder."
)


def gpx_with(before: str, inside: str = "") -> str:
    points = "".join([*northward(3), point(50.1, 10, second(60), inside)])
    return f'<?xml version="1.0"?>\n{before}{GPX_11}<trk><trkseg>{points}</trkseg></trk></gpx>'


@pytest.fixture(autouse=True)
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> NoReturn:
        raise AssertionError("something opened a connection")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)


@pytest.mark.parametrize(
    "before",
    [
        '<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>',
        '<!DOCTYPE gpx [<!ENTITY secret SYSTEM "file:///etc/hostname">]>',
        '<!DOCTYPE gpx SYSTEM "http://example.org/gpx.dtd">',
        '<!DOCTYPE gpx [<!ENTITY % far SYSTEM "http://example.org/far"> %far;]>',
    ],
)
def test_no_entity_is_expanded_and_nothing_is_fetched(tmp_path: Path, before: str) -> None:
    (tmp_path / "a.gpx").write_text(gpx_with(before, "<name>&secret;</name>"), "utf-8")
    with pytest.raises(LogError) as caught:
        read_log(tmp_path / "a.gpx")
    assert str(caught.value) == f"a.gpx: {DECLARATION}"


def test_an_include_is_no_more_than_an_element(tmp_path: Path) -> None:
    include = '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="file:///etc/hostname" parse="text"/>'
    (tmp_path / "a.gpx").write_text(gpx_with("", include), "utf-8")
    assert len(read_log(tmp_path / "a.gpx").samples) == 4


def test_the_size_limit_is_stated(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert content.SIZE_LIMIT_MB == 200
    docs = (Path(__file__).parents[1] / "docs" / "formats.md").read_text("utf-8")
    assert f"Files above {content.SIZE_LIMIT_MB} MB are refused" in docs
    monkeypatch.setattr(content, "SIZE_LIMIT_MB", 0.001)
    (tmp_path / "a.csv").write_bytes(b"x" * 2000)
    with pytest.raises(LogError) as caught:
        read_log(tmp_path / "a.csv")
    assert "the file has 0 MB; allowed is up to 0.001 MB" in str(caught.value)


@pytest.fixture
def ride(tmp_path: Path) -> Path:
    folder = tmp_path / "ride"
    shutil.copytree(SAMPLES / "motorway-commuter", folder, ignore=shutil.ignore_patterns("report"))
    return folder


def test_links_that_lead_outside_are_reported_and_not_read(ride: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "log.csv").write_text("time_s,speed_kmh,rpm\n0,10,1000\n", "utf-8")
    (outside / "bike.toml").write_text('name = "stolen"\n', "utf-8")
    (ride / "before" / "log.csv").symlink_to(outside / "log.csv")
    (ride / "after-2.csv").symlink_to(outside / "log.csv")
    (ride / "bike.toml").unlink()
    (ride / "bike.toml").symlink_to(outside / "bike.toml")
    folder = gearfit.read_folder(ride)
    assert folder.bike.name == ""
    assert not folder.has_bike_file
    files = {recording.file for setup in folder.setups for recording in setup.recordings}
    assert not files & {"before/log.csv", "after-2.csv"}
    why = "(a link that leads outside the folder is not followed)."
    assert [note for note in folder.notes if "link" in note] == [
        f"Left aside: bike.toml {why}",
        f"Left aside: after-2.csv {why}",
        f"Left aside: before/log.csv {why}",
    ]


@pytest.mark.parametrize("name", ["../evil", "a/b", "..", "/tmp/evil", "a\\\\b"])
def test_no_setup_is_a_path(ride: Path, name: str) -> None:
    (ride / "bike.toml").write_text(f'[setups."{name}"]\nfront = 14\n', "utf-8")
    with pytest.raises(BikeFileError):
        gearfit.read_folder(ride)


def test_the_report_is_not_written_through_a_link(
    ride: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (ride / "report").symlink_to(outside)
    message = (
        f"{ride / 'report'}: the report's folder is a link that leads outside the ride folder. Remove the link, or say "
        "where to write with --out."
    )
    with pytest.raises(FolderError) as caught:
        report_folder(ride)
    assert str(caught.value) == message
    assert main(["report", str(ride)]) == 1
    assert capsys.readouterr().err == f"gearfit: {message}\n"
    assert list(outside.iterdir()) == []


def test_a_link_in_the_place_of_a_result_is_not_followed(ride: Path, tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    victim.write_text("precious", "utf-8")
    (ride / "report").mkdir()
    (ride / "report" / "results.json").symlink_to(victim)
    assert main(["report", str(ride)]) == 1
    assert victim.read_text("utf-8") == "precious"
    assert (ride / "report" / "results.json").is_symlink()


def test_names_like_formulas_and_markup_are_written_harmless(ride: Path) -> None:
    evil = "=1+1&<b>x<i>.csv"
    shutil.copy(next((ride / "before").glob("*.csv")), ride / "before" / evil)
    (ride / "bike.toml").write_text('name = "<img src=x onerror=alert(1)>"\n', "utf-8")
    assert main(["report", str(ride)]) == 0
    report = ride / "report"
    page = (report / "report.html").read_text("utf-8")
    assert "<b>x" not in page
    assert "<img src=x" not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page
    for path in report.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        texts = [row[name] for row in rows for name in ("file", "left_out", "setup") if name in row]
        assert not [text for text in texts if text.startswith(("=", "+", "-", "@"))]
