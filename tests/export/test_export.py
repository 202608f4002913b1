"""Tables and tracks that other programs read: pandas, pyarrow and gpxpy read them back."""

from __future__ import annotations

import shutil
from pathlib import Path

import gpxpy
import numpy as np
import pandas as pd
import pytest

import gearfit
from gearfit.commands.cli import main
from gearfit.importers import read_log
from gearfit.report.files import export_tables as tables
from gearfit.report.files.export_tables import TABLES, write_csv
from tests.faults.test_whole_files import ride_in
from tests.report import example

SAMPLES = Path(__file__).parents[2] / "sample_logs"


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("export")
    ride = place / "ride"
    shutil.copytree(SAMPLES / "trail-bike", ride, ignore=shutil.ignore_patterns("report"))
    assert main(["export", str(ride), "--as", "csv", "parquet", "gpx"]) == 0
    return ride


def test_each_table_is_written_and_csv_and_parquet_agree(exported: Path) -> None:
    place = exported / "report" / "export"
    assert sorted(path.name for path in place.iterdir()) == sorted(
        [*(f"{name}.{form}" for name in TABLES for form in ("csv", "parquet")), ".gearfit.json"]
    )
    tracks = sorted(path.name for path in (exported / "tracks").iterdir())
    assert tracks == [".gearfit.json", "track_after.gpx", "track_before.gpx"]
    for name in TABLES:
        text = pd.read_csv(place / f"{name}.csv", dtype="str", keep_default_na=False)
        table = pd.read_parquet(place / f"{name}.parquet")
        assert list(text.columns) == list(table.columns)
        assert len(text) == len(table)
        for column in table.select_dtypes("float64"):
            np.testing.assert_array_equal([float(cell or "nan") for cell in text[column]], table[column])


def test_the_track_comes_back_as_it_was_read(exported: Path) -> None:
    """Import, export, import is the identity; times to the microsecond that GPX writing keeps."""
    before = read_log(exported / "before" / "ride.gpx").samples
    again = read_log(exported / "tracks" / "track_before.gpx").samples
    for column in ("latitude_deg", "longitude_deg", "elevation_m", "speed_mps"):
        np.testing.assert_allclose(again[column], before[column], rtol=1e-8)
    np.testing.assert_allclose(again["time_s"], before["time_s"], atol=2e-6)
    assert again["engine_rpm"].notna().mean() > 0.5, "engine speed of the other recorder stands in the track now"


def test_each_point_has_its_gear_and_marks_name_gears(exported: Path) -> None:
    track = gpxpy.parse((exported / "tracks" / "track_before.gpx").read_text("utf-8"))
    samples = pd.read_csv(exported / "report" / "export" / "samples.csv")
    expected = samples[(samples["setup"] == "before") & (samples["file"] == "before/ride.gpx")]["gear"].dropna()
    found = [
        int(element.text or "")
        for point in track.walk(only_points=True)
        for element in point.extensions
        if element.tag == "{urn:gearfit:ride:1}gear"
    ]
    assert found == expected.astype(int).tolist()
    assert {mark.name for mark in track.waypoints if mark.type == "gear"} == {
        "1st gear",
        "2nd gear",
        "3rd gear",
        "4th gear",
        "5th gear",
        "6th gear",
    }


def test_parquet_without_its_library_is_one_clear_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    assert main(["export", str(ride_in(tmp_path)), "--as", "parquet"]) == 1
    assert capsys.readouterr().err == (
        "gearfit: Parquet: the library pyarrow is not installed. Run: pip install 'gearfit[parquet]'.\n"
    )


def test_a_ride_without_positions_has_no_track(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ride = ride_in(tmp_path)
    assert main(["export", str(ride), "--as", "gpx"]) == 1
    assert capsys.readouterr().err == (
        f"gearfit: {ride}: no file holds positions with date and time. Add a GPX or NMEA track, or export csv.\n"
    )


def test_no_text_is_run_as_a_formula(tmp_path: Path) -> None:
    write_csv(example.nasty_names(), tmp_path)
    assert "\n=" not in (tmp_path / "samples.csv").read_text("utf-8")
    files = pd.read_csv(tmp_path / "samples.csv")["file"]
    assert files.str.startswith("'=HYPERLINK").any()
    assert tables.safe_text(3) == 3


def test_runs_found_in_a_ride_are_marked() -> None:
    from dataclasses import replace

    from gearfit.records.results import TimedSpan
    from gearfit.report.files.track import track_text

    folder = gearfit.read_folder(SAMPLES / "trail-bike")
    analysis = gearfit.analyse(folder)
    run = TimedSpan("before/ride.gpx", 0.0, 80 / 3.6, 100.0, example.estimate(6.0, 0.1))
    result = replace(analysis.setups[0], timed_spans=(run,))
    (track,) = [r for r in folder.setups[0].recordings if r.file == "before/ride.gpx"]
    marks = [mark for mark in gpxpy.parse(track_text(analysis, result, [track])).waypoints if mark.type == "run"]
    assert [mark.name for mark in marks] == ["Run 1 begins: 0 to 80 km/h", "Run 1 ends: 0 to 80 km/h in 6.00 s"]
    assert marks[0].time is not None
    assert marks[1].time is not None
    assert (marks[1].time - marks[0].time).total_seconds() == pytest.approx(6.0, abs=0.2)


def test_tracks_beside_the_rides_are_no_warning(exported: Path) -> None:
    """Results in a folder of their own are passed over like the report."""
    assert (exported / "tracks").is_dir()
    assert not [note for note in gearfit.read_folder(exported).notes if "tracks" in note]
