"""The track: positions where they belong, and none anywhere when they are not wanted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import gearfit
from gearfit.records.recording import RideFolder
from gearfit.records.results import Analysis
from gearfit.records.track_results import HELD, IN_GEAR, LEFT_OUT, RUN, Track
from gearfit.report.figures import track_picture
from gearfit.report.files.privacy import without_positions
from tests.report import example

SAMPLES = Path(__file__).parents[2] / "sample_logs"


def with_track() -> Analysis:
    analysis = example.two_setups()
    track = Track(
        "morning.gpx",
        np.array([0.0, 100.0, 200.0, 300.0]),
        np.array([0.0, 10.0, 20.0, 30.0]),
        np.array([LEFT_OUT, IN_GEAR, HELD, RUN]),
        np.array([1, 4, 5, 6]),
    )
    before = replace(analysis.setups[0], tracks=(track,))
    return replace(analysis, setups=(before, *analysis.setups[1:]))


def test_each_position_is_drawn_as_what_was_done_there() -> None:
    figure = track_picture.draw(with_track())
    assert figure is not None
    (ax,) = figure.axes
    for label, east in (("left out", 0.0), ("in a gear", 100.0), ("held speed", 200.0), ("timed run", 300.0)):
        (line,) = [line for line in ax.get_lines() if line.get_label() == label]
        data = np.asarray(line.get_xdata(), dtype=np.float64)
        assert data[np.isfinite(data)].tolist() == [east]
    assert (
        "4 positions 25\xa0% left out, 25\xa0% in a gear, 25\xa0% held speed, 25\xa0% timed run"
        in track_picture.alt(with_track())
    )


def test_no_positions_no_picture() -> None:
    assert track_picture.draw(without_positions(with_track())) is None
    assert track_picture.draw(example.two_setups()) is None


@pytest.fixture(scope="module")
def trail() -> tuple[RideFolder, Analysis]:
    """The sample ride with positions, read and analysed once."""
    folder = gearfit.read_folder(SAMPLES / "trail-bike")
    return folder, gearfit.analyse(folder)


def test_metres_agree_with_the_ellipsoid(trail: tuple[RideFolder, Analysis]) -> None:
    """Held against GeographicLib (C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 2013)."""
    geodesic = pytest.importorskip("geographiclib.geodesic").Geodesic.WGS84
    folder, analysis = trail
    track = analysis.setups[0].tracks[0]
    (table,) = [r.samples for r in folder.setups[0].recordings if r.file == track.file]
    lat, lon = table["latitude_deg"].to_numpy(), table["longitude_deg"].to_numpy()
    farthest = int(np.argmax(np.hypot(track.east_m, track.north_m)))
    expected = geodesic.Inverse(lat[0], lon[0], lat[farthest], lon[farthest])["s12"]
    assert np.hypot(track.east_m[farthest], track.north_m[farthest]) == pytest.approx(expected, rel=1e-5)


def test_without_positions_nothing_written_tells_where_it_was(
    trail: tuple[RideFolder, Analysis], tmp_path: Path
) -> None:
    folder, analysis = trail
    written = gearfit.write_report(analysis, tmp_path, positions=False)
    places = {
        f"{value:.9f}"[:9]
        for setup in folder.setups
        for recording in setup.recordings
        for name in ("latitude_deg", "longitude_deg")
        for value in recording.samples[name].dropna().to_numpy()[::500]
    }
    assert len(places) > 10
    for name, path in written.items():
        if path.suffix in {".html", ".json", ".csv", ".svg"}:
            text = path.read_text("utf-8")
            # digits within a picture may agree with a place by chance
            assert path.suffix in {".html", ".svg"} or not [place for place in places if place in text], name
            assert 'id="track-picture"' not in text
