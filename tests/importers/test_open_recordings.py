"""Real recordings that nobody on this project made."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.errors import LogError
from gearfit.importers import read_log
from tests.outside import outside_data, outside_file

#: "Automotive OBD-II Dataset", M. Weber, Karlsruhe Institute of Technology, RADAR4KIT 2023, DOI 10.35097/1130, CC BY
#: 4.0. Lines counted with `wc -l` less the header; the first of the four slips in phase.
DRIVES = {
    "2017-07-14": (6829, 0.95),
    "2017-07-31": (10637, 1.0),
    "2018-02-20": (8903, 1.0),
    "2018-03-19": (11307, 1.0),
}


@pytest.mark.parametrize("day", DRIVES)
def test_polled_car_logs(day: str) -> None:
    """One of ten signals is refreshed in each row; rpm in the row before speed (as the data's description says)."""
    rows, share = DRIVES[day]
    log = read_log(outside_file("obd_car", f"{day}_*.csv"))
    samples = log.samples
    assert (log.kind, log.clock, log.speed_source) == ("log", "time of day", "machine")
    assert len(samples) == rows
    assert samples["rpm_fresh"].mean() == pytest.approx(0.1, rel=0.02)
    assert samples["speed_fresh"].mean() == pytest.approx(0.1, rel=0.02)
    rpm, speed = np.flatnonzero(samples["rpm_fresh"]), np.flatnonzero(samples["speed_fresh"])
    assert np.isin(speed, rpm + 1).mean() >= share
    assert log.speed_step_mps == pytest.approx(1 / 3.6)
    for channel, fresh in (("speed_mps", speed), ("engine_rpm", rpm)):
        values = samples[channel].to_numpy()
        changed = np.flatnonzero((np.diff(values) != 0) & np.isfinite(values[:-1]) & np.isfinite(values[1:])) + 1
        assert np.isin(changed, fresh).all(), "a row in which the value changes was measured anew"


def test_a_file_of_28_drives() -> None:
    """nds_data of the R package DrivePlotR, MIT licence, M. Hardt, H. Hofmann, G. Basulto-Elias.

    The drives follow each other in time, so the whole is one log with pauses between them.
    """
    log = read_log(outside_data("gps_drives") / "nds_data.csv")
    assert (log.kind, log.clock, log.start_s) == ("log", "utc", 1558644851.0)
    assert len(log.samples) == 23187
    assert log.samples["engine_rpm"].notna().sum() == 7281
    assert log.samples["speed_mps"].max() == pytest.approx(84.467210 * 0.44704, rel=1e-6)
    assert log.samples["rpm_fresh"].sum() == 7281
    assert log.samples["speed_fresh"].all()
    assert log.notes == ("7 other columns not used.",)  # 12 in the file, 5 of use


NO_TRACK = (
    "there is no track, the file holds waypoints or a route only; allowed is a recorded track (trk, trkseg, trkpt). "
    "Record the ride as a track and export that."
)
NO_ZONE = (
    "the time '2013-01-01T12:00:04' has no zone, as in 1 of 1 points; allowed is UTC with a Z, or an offset such as "
    "+02:00. Export the track again, or write the zone."
)
REFUSED = {
    "cerknicko-without-times.gpx": ", point 1: the time is missing, as in 291 of 296 points; every track point needs "
    "one. Export the track again with times, or remove these points.",
    "gpx1.0_with_all_fields.gpx": f", point 1: {NO_ZONE}",
    "gpx1.1_with_all_fields.gpx": f", point 1: {NO_ZONE}",
    "gpx1.1_with_extensions.gpx": f": {NO_TRACK}",
    "gpx_with_*_extension.gpx": f": {NO_TRACK}",
}


@pytest.mark.parametrize("pattern", REFUSED)
def test_tracks_refused(pattern: str) -> None:
    """Test files of gpxpy, Apache-2.0."""
    path = outside_file("gpx_corner_cases", pattern)
    with pytest.raises(LogError) as caught:
        read_log(path)
    assert str(caught.value) == path.name + REFUSED[pattern]


@pytest.mark.parametrize(
    ("name", "points", "span_s"),
    [
        ("around-visnjan-with-car.gpx", 104, 514.0),
        ("track-with-empty-segment.gpx", 9, 76.0),
        ("track-with-less-sec-time.gpx", 2, 0.994),
    ],
)
def test_tracks_read(name: str, points: int, span_s: float) -> None:
    """Test files of gpxpy, Apache-2.0; points and spans counted in the files."""
    track = read_log(outside_data("gpx_corner_cases") / name)
    assert (track.kind, track.clock, track.speed_source) == ("track", "utc", "position")
    assert len(track.samples) == points
    assert track.samples["time_s"].iloc[-1] == pytest.approx(span_s, abs=1e-6)
    assert track.samples["speed_mps"].max() < 40.0
