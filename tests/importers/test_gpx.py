"""GPX tracks: what is read from them."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from tests.importers.conftest import Read
from tests.importers.gpx_text import GPX_10, gpx, northward, point, second

SMOOTHING = (
    "Speed derived from positions: displacement on the WGS84 ellipsoid from the point before to the point after, over "
    "the time between them; "
)


def with_inside(values: list[str], root: str | None = None) -> str:
    points = [point(50 + k * 1e-4, 10.0, second(k), inside) for k, inside in enumerate(values)]
    return gpx(points) if root is None else gpx(points, root=root)


def test_a_track_with_positions_only(read: Read) -> None:
    track = read(gpx(northward(40)))
    step_m = Geodesic.WGS84.Inverse(50, 10, 50.0001, 10)["s12"]
    assert (track.kind, track.clock, track.speed_source) == ("track", "utc", "position")
    assert track.start_s == 1714564800.0  # 2024-05-01T12:00:00Z
    assert track.samples["time_s"].tolist() == list(range(40))
    assert track.samples["speed_mps"].to_numpy() == pytest.approx(step_m, rel=1e-5)
    assert track.samples["elevation_m"].tolist() == [100.5] * 40
    assert track.samples["row"].tolist() == list(range(1, 41))
    assert track.samples["speed_fresh"].all()
    assert not track.samples["rpm_fresh"].any()
    assert track.speed_step_mps is None


def test_noise_of_the_positions_becomes_the_error_of_the_speed(read: Read) -> None:
    """White noise of 0.6 m put on an even track is found again, and so is the scatter of the speed."""
    rng = np.random.default_rng(7)
    m_per_deg = Geodesic.WGS84.Inverse(50, 10, 50.001, 10)["s12"] * 1000
    east_m_per_deg = Geodesic.WGS84.Inverse(50, 10, 50, 10.001)["s12"] * 1000
    noise_m = 0.6
    points = [
        point(
            50 + (20 * k + rng.normal(0, noise_m)) / m_per_deg,
            10 + rng.normal(0, noise_m) / east_m_per_deg,
            second(k),
        )
        for k in range(1500)
    ]
    samples = read(gpx(points)).samples.iloc[1:-1]
    stated = float(samples["speed_sd_mps"].iloc[0])
    assert stated == pytest.approx(np.sqrt(2) * noise_m / 2, rel=0.05)
    assert float(samples["speed_mps"].std()) == pytest.approx(stated, rel=0.08)


def test_too_few_points_for_the_noise(read: Read) -> None:
    track = read(gpx(northward(5)))
    assert track.samples["speed_sd_mps"].isna().all()
    assert track.notes == (SMOOTHING + "its noise is unknown, as too few points are evenly timed.",)


def test_new_segments_and_pauses_are_not_bridged(read: Read) -> None:
    before = northward(3)
    after = [point(51 + k * 1e-4, 10.0, second(3 + k)) for k in range(3)]
    paused = [point(52 + k * 1e-4, 10.0, second(60 + k)) for k in range(3)]
    track = read(gpx(before, [*after, *paused]))
    assert len(track.samples) == 9
    assert track.samples["speed_mps"].to_numpy() == pytest.approx(11.12, abs=0.02)
    assert track.notes[0] == "2 track segments joined."


def test_a_point_alone_has_no_speed(read: Read) -> None:
    track = read(gpx(northward(3), [point(51, 10, second(3))]))
    assert track.samples["speed_mps"].isna().tolist() == [False, False, False, True]


def test_speed_of_version_1_0(read: Read) -> None:
    track = read(with_inside([f"<speed>{10 + k}.5</speed>" for k in range(4)], GPX_10))
    assert track.speed_source == "receiver"
    assert track.samples["speed_mps"].tolist() == [10.5, 11.5, 12.5, 13.5]
    assert track.samples["speed_sd_mps"].to_numpy() == pytest.approx(0.1 / np.sqrt(12))


def test_speed_straight_in_a_point_of_version_1_1(read: Read) -> None:
    track = read(with_inside([f"<speed>{10 + k}.5</speed>" for k in range(4)]))
    assert track.samples["speed_mps"].tolist() == [10.5, 11.5, 12.5, 13.5]


@pytest.mark.parametrize(
    "wrapped",
    [
        "<extensions><a:speed>{speed}</a:speed><b:rpm>{rpm}</b:rpm></extensions>",
        "<extensions><a:x><b:y><a:Speed>{speed}</a:Speed></b:y><b:RPM>{rpm}</b:RPM></a:x></extensions>",
        "<extensions><speed>{speed}</speed><rpm>{rpm}</rpm></extensions>",
    ],
)
def test_extensions_of_any_namespace_and_depth(read: Read, wrapped: str) -> None:
    track = read(with_inside([wrapped.format(speed=10 + k, rpm=3000 + k) for k in range(4)]))
    assert track.speed_source == "receiver"
    assert track.samples["speed_mps"].tolist() == [10, 11, 12, 13]
    assert track.samples["engine_rpm"].tolist() == [3000, 3001, 3002, 3003]
    assert track.samples["rpm_fresh"].all()


def test_some_points_without_speed(read: Read) -> None:
    track = read(with_inside(["<speed>10</speed>", "", "<speed>-1</speed>", "<speed>12</speed>"]))
    assert track.samples["speed_mps"].isna().tolist() == [False, True, True, False]
    assert track.samples["speed_fresh"].tolist() == [True, False, False, True]
    assert track.notes == ("Point 3: speed -1 m/s is outside 0 to 150; left out, as in 1 point.",)


def test_points_out_of_order_and_repeated(read: Read) -> None:
    points = northward(5)
    track = read(gpx([points[0], points[2], points[1], points[1], points[3], points[4]]))
    assert track.samples["row"].tolist() == [1, 3, 2, 5, 6]
    assert track.samples["time_s"].tolist() == [0, 1, 2, 3, 4]
    assert track.notes[:2] == (
        "2 points out of order put in order of time.",
        "1 point with the time of an earlier point left out.",
    )


def test_offsets_and_fractions_of_a_second(read: Read) -> None:
    times = ["2024-05-01T12:00:00.250Z", "2024-05-01T14:00:01.500+02:00", "2024-05-01T07:00:03-05:00"]
    track = read(gpx([point(50, 10, time) for time in times]))
    assert track.start_s == 1714564800.25
    assert track.samples["time_s"].tolist() == [0, 1.25, 2.75]


def test_utf_16(read: Read) -> None:
    text = gpx(northward(4)).replace("UTF-8", "UTF-16")
    assert len(read(text.encode("utf-16")).samples) == 4


def test_a_first_line_that_is_blank(read: Read) -> None:
    assert len(read("\n\n" + gpx(northward(4))).samples) == 4


def test_one_point_is_read_and_has_no_speed(read: Read) -> None:
    track = read(gpx(northward(1)))
    assert (track.speed_source, len(track.samples)) == ("none", 1)


def test_text_in_place_of_a_speed(read: Read) -> None:
    track = read(with_inside(["<speed>10</speed>", "<speed>fast</speed>", "<speed>11</speed>"]))
    assert track.samples["speed_mps"].isna().tolist() == [False, True, False]
    assert track.notes == ("Point 2: speed 'fast' is no number; left out, as in 1 point.",)


@pytest.mark.parametrize("text", ["high", "inf", "1e999"])
def test_a_height_that_is_none(read: Read, text: str) -> None:
    track = read(gpx([*northward(2), point(50, 10, second(2)).replace("100.5", text)]))
    assert np.isnan(track.samples["elevation_m"]).tolist() == [False, False, True]
    assert track.notes[0] == f"Point 3: ele {text!r} is no number; left out, as in 1 point."
