"""Whose speeds a fit rests on, where a setup holds several kinds."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearfit.fitting.setup_fit import gather_setup
from gearfit.fitting.setup_summary import speed_source
from gearfit.importers import read_log
from gearfit.machine.bike import Setup
from gearfit.records.recording import RideSetup
from tests.importers.gpx_text import gpx

#: Seconds of a ride whose speed goes up and down, m/s.
SPEEDS = [15 + 5 * (k % 40) / 40 for k in range(180)]


def ride(folder: Path, *, with_track: bool) -> RideSetup:
    """A log with the machine's own speed, and a satellite track of the same ride."""
    (folder / "obd.csv").write_text(
        "time,OBD speed (km/h),rpm\n"
        + "".join(
            f"2024-05-01T12:{k // 60:02d}:{k % 60:02d}Z,{3.7 * v:.1f},{250 * v:.0f}\n" for k, v in enumerate(SPEEDS)
        )
    )
    (folder / "track.gpx").write_text(
        gpx(
            [
                f'<trkpt lat="50" lon="10"><time>2024-05-01T12:{k // 60:02d}:{k % 60:02d}Z</time>'
                f"<extensions><speed>{v:.2f}</speed></extensions></trkpt>"
                for k, v in enumerate(SPEEDS)
            ]
        )
    )
    files = ["obd.csv", "track.gpx"] if with_track else ["obd.csv"]
    return RideSetup(Setup("before"), tuple(read_log(folder / name, name) for name in files))


@pytest.mark.parametrize(("with_track", "source"), [(True, "receiver"), (False, "machine")])
def test_the_speeds_that_the_fit_used_decide(tmp_path: Path, with_track: bool, source: str) -> None:
    setup = ride(tmp_path, with_track=with_track)
    material = gather_setup(setup)
    assert speed_source(setup, {stream.file for stream in material.streams}) == source


def test_where_both_count_the_worse_decides(tmp_path: Path) -> None:
    assert speed_source(ride(tmp_path, with_track=True)) == "machine"
