"""GPX as phones and cameras record it, and the same points as gpxpy reads."""

from __future__ import annotations

import re
from pathlib import Path

import gpxpy
import numpy as np
import pytest

from gearfit.fitting.gathering.streams import gather
from gearfit.importers import read_log
from gearfit.importers.common.content import read_content
from gearfit.importers.gpx.points import read_points
from tests.importers.conftest import Read
from tests.importers.gpx_text import gpx, northward, point, second
from tests.outside import outside_data

#: Metres in one degree of latitude at 50 degrees north on WGS84 (common tables: 111.229 km).
METRES_A_DEGREE = 111_229.0


def same_as_gpxpy(path: Path) -> int:
    """Compare every point with gpxpy's; return their number."""
    ours = read_points(read_content(path, path.name))
    parsed = gpxpy.parse(path.read_text("utf-8").lstrip())
    theirs = [point for track in parsed.tracks for segment in track.segments for point in segment.points]
    assert ours.latitude_deg.tolist() == [point.latitude for point in theirs]
    assert ours.longitude_deg.tolist() == [point.longitude for point in theirs]
    times = [point.time.timestamp() for point in theirs if point.time is not None]
    assert ours.unix_s.tolist() == pytest.approx(times, abs=1e-6)
    heights = [np.nan if point.elevation is None else point.elevation for point in theirs]
    np.testing.assert_array_equal(ours.elevation_m, heights)
    segments = [
        number for number, one in enumerate((s for t in parsed.tracks for s in t.segments), 1) for _ in one.points
    ]
    assert ours.segment.tolist() == segments
    return len(theirs)


@pytest.mark.parametrize(
    "name", ["around-visnjan-with-car.gpx", "track-with-empty-segment.gpx", "track-with-less-sec-time.gpx"]
)
def test_real_tracks_read_as_gpxpy_reads_them(name: str) -> None:
    """Test files of gpxpy, Apache-2.0."""
    assert same_as_gpxpy(outside_data("gpx_corner_cases") / name) > 0


def test_a_made_track_reads_as_gpxpy_reads_it(tmp_path: Path) -> None:
    path = tmp_path / "ride"
    points = [*northward(20), point(50.1, 10.25, "2024-05-01T14:03:00.125+02:00"), point(50.2, -9.5, second(200))]
    path.write_text(gpx(points, [], northward(3)), "utf-8")
    assert same_as_gpxpy(path) == 25


def prefixed(text: str, prefix: str) -> str:
    """Give every element of GPX a prefix, with the namespace declared for it."""
    text = re.sub(r"<(/?)(gpx|trk|trkseg|trkpt|time|ele|extensions)\b", rf"<\1{prefix}:\2", text)
    return text.replace("xmlns=", f"xmlns:{prefix}=")


def test_elements_with_a_prefix(read: Read) -> None:
    inside = "<extensions><a:speed>12.5</a:speed><b:rpm>4200</b:rpm></extensions>"
    plain = gpx([point(50 + k * 1e-4, 10, second(k), inside) for k in range(5)])
    other = read(prefixed(plain, "g"))
    assert other.samples["speed_mps"].tolist() == [12.5] * 5
    assert other.samples["engine_rpm"].tolist() == [4200] * 5
    assert other.samples.equals(read(plain).samples)


def test_doubled_and_missing_seconds(read: Read) -> None:
    """One point a second northward at 10 m/s; some seconds come twice, some not at all."""
    step = 10.0 / METRES_A_DEGREE
    seconds = [k for k in range(120) if k % 17 != 5]
    seconds = sorted(seconds + [k for k in seconds if k % 13 == 3])
    track = read(gpx([point(50 + k * step, 10, second(k)) for k in seconds]))
    assert track.samples["time_s"].is_monotonic_increasing
    assert track.samples["speed_mps"].to_numpy() == pytest.approx(10.0, rel=1e-4)
    doubled = len(seconds) - len(set(seconds))
    assert track.notes[0] == f"{doubled} points with the time of an earlier point left out."


def test_several_tracks_and_segments_with_pauses(read: Read) -> None:
    step = 10.0 / METRES_A_DEGREE
    one = [point(50 + k * step, 10, second(k)) for k in range(30)]
    two = [point(50.1 + k * step, 10, second(600 + k)) for k in range(30)]
    text = gpx(one, []).replace("</gpx>", "") + f"<trk><trkseg>{''.join(two)}</trkseg></trk></gpx>"
    track = read(text)
    assert len(track.samples) == 60
    assert track.samples["speed_mps"].to_numpy() == pytest.approx(10.0, rel=1e-4), "no speed across the pause"


def test_noise_of_positions_reaches_the_fit(read: Read) -> None:
    """White position noise of 1 m at one point a second: sqrt(2) 1 m / 2 s between the two neighbours."""
    rng = np.random.default_rng(1)
    north, east = rng.normal(0, 1.0, (2, 900)) / METRES_A_DEGREE
    points = [
        point(50 + k * 10.0 / METRES_A_DEGREE + north[k], 10 + east[k] / np.cos(np.radians(50)), second(k))
        for k in range(900)
    ]
    track = read(gpx(points))
    assert track.samples["speed_sd_mps"].iloc[5] == pytest.approx(np.sqrt(2) / 2, rel=0.05)
    log = read(
        "time,rpm\n" + "".join(f"2024-05-01T12:{k // 60:02d}:{k % 60:02d}Z,{3000 + k}\n" for k in range(900)), "rpm"
    )
    (stream,) = gather([track, log]).streams
    assert np.median(stream.speed_sd_mps) == pytest.approx(np.sqrt(2) / 2, rel=0.05)


def test_a_long_track(tmp_path: Path) -> None:
    """Not timed here; `python -m tests.benchmarks.gpx` does."""
    path = tmp_path / "ride"
    points = [
        point(50 + k * 1e-6, 10, f"2024-05-01T{k // 36000:02d}:{k // 600 % 60:02d}:{k // 10 % 60:02d}.{k % 10}Z")
        for k in range(30_000)
    ]
    path.write_text(gpx(points), "utf-8")
    assert len(read_log(path).samples) == 30_000
