"""GPX files that are refused, each with its whole message; nothing is expanded and nothing fetched."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearfit.errors import LogError
from tests.importers.conftest import Read
from tests.importers.gpx_text import gpx, northward, point, second

DOCTYPE = (
    "a.gpx: the file has a DOCTYPE or entity declaration, which no GPX track has and which is never expanded. "
    "Export the track again from the recorder."
)


def refusal(read: Read, text: str | bytes) -> str:
    with pytest.raises(LogError) as caught:
        read(text, "a.gpx")
    return str(caught.value)


def test_cut_in_the_middle(read: Read) -> None:
    whole = gpx(northward(4))
    cut = whole[: whole.index("</trkpt>") + 12]
    assert refusal(read, cut) == (
        f"a.gpx, line 3, column {len(cut.splitlines()[2]) - 3}: the file is cut or damaged here (unclosed token); "
        "allowed is a complete GPX file. Export or copy it again from the recorder."
    )


def test_cut_between_elements(read: Read) -> None:
    whole = gpx(northward(4))
    cut = whole[: whole.index("</trkpt>") + 8]
    assert refusal(read, cut) == (
        f"a.gpx, line 3, column {len(cut.splitlines()[2]) + 1}: the file is cut or damaged here (no element found); "
        "allowed is a complete GPX file. Export or copy it again from the recorder."
    )


def test_entity_bomb(read: Read) -> None:
    levels = "".join(f'<!ENTITY e{k + 1} "{f"&e{k};" * 10}">' for k in range(12))
    bomb = f'<!DOCTYPE gpx [<!ENTITY e0 "ha">{levels}]>'
    assert refusal(read, gpx([point(50, 10, "&e12;")], before=bomb)) == DOCTYPE


def test_external_entity(read: Read, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("2024-05-01T12:00:00Z")
    outside = f'<!DOCTYPE gpx [<!ENTITY x SYSTEM "{(tmp_path / "secret").as_uri()}">]>'
    assert refusal(read, gpx([point(50, 10, "&x;")], before=outside)) == DOCTYPE


def test_external_doctype(read: Read) -> None:
    assert refusal(read, gpx(northward(2), before='<!DOCTYPE gpx SYSTEM "https://example.org/gpx.dtd">')) == DOCTYPE


def test_an_entity_that_nobody_declared(read: Read) -> None:
    assert refusal(read, "<gpx>&x;</gpx>") == (
        "a.gpx, line 1, column 6: the file is cut or damaged here (undefined entity); allowed is a complete GPX file. "
        "Export or copy it again from the recorder."
    )


@pytest.mark.parametrize("root", ["kml", "TrainingCenterDatabase", "svg"])
def test_another_root(read: Read, root: str) -> None:
    message = f"a.gpx: the root element is {root!r}; allowed is 'gpx'. Export the ride as GPX."
    assert refusal(read, f'<?xml version="1.0"?><{root}></{root}>') == message


def test_a_point_without_time(read: Read) -> None:
    segments = northward(2), [point(51, 10, second(5)), point(51, 10, None), point(51, 10, second(7))]
    assert refusal(read, gpx(*segments)) == (
        "a.gpx, point 4: the time is missing, as in 1 of 5 points; every track point needs one. "
        "Export the track again with times, or remove these points."
    )


def test_no_times_at_all(read: Read) -> None:
    assert refusal(read, gpx([point(50, 10, None), point(50, 10, None)])) == (
        "a.gpx: none of the 2 track points has a time; allowed is a track recorded on the ride. "
        "Export the recorded track, not a planned one."
    )


def test_a_time_without_zone(read: Read) -> None:
    points = [point(50, 10, second(0)), point(50, 10, "2024-05-01T12:00:01"), point(50, 10, "2024-05-01T12:00:02")]
    assert refusal(read, gpx(points)) == (
        "a.gpx, point 2: the time '2024-05-01T12:00:01' has no zone, as in 2 of 3 points; allowed is UTC with a Z, or "
        "an offset such as +02:00. Export the track again, or write the zone."
    )


def test_a_time_that_is_none(read: Read) -> None:
    assert refusal(read, gpx([*northward(2), point(50, 10, "yesterday")])) == (
        "a.gpx, point 3: 'yesterday' is no time; allowed is ISO 8601 such as 2024-05-01T12:00:00Z. "
        "Export the track again, or correct the point."
    )


@pytest.mark.parametrize("latitude", ["95", "north", "", "nan", "1_0", "５０"])
def test_an_impossible_position(read: Read, latitude: str) -> None:
    wrong = f'<trkpt lat="{latitude}" lon="10"><time>{second(9)}</time></trkpt>'
    assert refusal(read, gpx([*northward(2), wrong])) == (
        f"a.gpx, point 3: lat is {latitude!r}; allowed is -90 to 90 degrees. Correct or remove the point."
    )


def test_waypoints_only(read: Read) -> None:
    assert refusal(read, '<gpx version="1.1"><wpt lat="50" lon="10"/></gpx>') == (
        "a.gpx: there is no track, the file holds waypoints or a route only; allowed is a recorded track (trk, trkseg, "
        "trkpt). Record the ride as a track and export that."
    )


def test_nothing_inside(read: Read) -> None:
    assert refusal(read, '<gpx version="1.1"></gpx>') == (
        "a.gpx: there is no track, the file holds no track points; allowed is a recorded track (trk, trkseg, trkpt). "
        "Record the ride as a track and export that."
    )


def test_points_outside_a_track(read: Read) -> None:
    assert refusal(read, f'<gpx version="1.1">{point(50, 10, second(0))}</gpx>') == (
        "a.gpx: 1 of 1 track points lie outside trk and trkseg elements; allowed is none. Export the track again from "
        "the recorder."
    )
