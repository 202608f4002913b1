"""What `gearfit check` says about a file."""

from __future__ import annotations

import pytest

from gearfit.importers import describe
from tests.importers.conftest import Read
from tests.importers.gpx_text import gpx, northward, point
from tests.importers.nmea_text import gga, rmc


def test_a_log(read: Read) -> None:
    rows = "".join(f"08:19:{k:02d}.500,{1000 + 9 * k}\n" for k in (*range(20), 40))
    assert describe(read("Time,Engine RPM [RPM],Throttle\n" + rows.replace("\n", ",1\n"), "a.csv")) == [
        "a.csv: log (values over time)",
        "  column 'Time' -> time_s [HH:MM:SS]",
        "  column 'Engine RPM [RPM]' -> engine_rpm [rpm]",
        "  rows: 21 read, 21 with engine speed",
        "  speed: none",
        "  rate: 1 rows a second (every 1 s)",
        "  pauses longer than 5 s: 1, longest 21.0 s",
        "  time: from 08:19:00.500 (no date or zone), 40.0 s long",
        "  missing: no speed here: add a track (GPX or NMEA) or a speed log of the same ride",
        "  note: 1 other column not used.",
    ]


@pytest.mark.parametrize(
    ("first", "said"),
    [
        ("2024-05-01 12:00:03", "2024-05-01 12:00:03.000 (no zone)"),
        ("2024-05-01T12:00:03.25", "2024-05-01 12:00:03.250 (no zone)"),
        ("14-Jul-2017 08:19:47.605", "2017-07-14 08:19:47.605 (no zone)"),
        ("31/12/2023 23:59:00", "2023-12-31 23:59:00.000 (no zone)"),
        ("05/06/2023 10:00:00", "10:00:00.000 (no zone, and its date can be read in two ways)"),
        ("10:00:00", "10:00:00.000 (no date or zone)"),
    ],
)
def test_a_date_without_a_zone(read: Read, first: str, said: str) -> None:
    rows = "".join(f"{first},{1000 + k}\n" for k in range(2))
    later = first[:-1] + "9" if "." in first else first.replace(":00", ":59").replace(":03", ":59")
    lines = describe(read(f"Time,rpm\n{rows}{later},3000\n", "a.csv"))
    assert next(line for line in lines if line.startswith("  time: ")).startswith(f"  time: from {said}, ")


def test_a_track(read: Read) -> None:
    lines = describe(read(gpx([*northward(3), point(50.001, 10, "2024-05-01T12:02:03Z")]), "a.gpx"))
    assert lines[0] == "a.gpx: track of a satellite receiver"
    assert "  rows: 4 read, 3 with speed" in lines
    assert "  speed: derived from positions" in lines
    assert "  time: from 2024-05-01 12:00:00 UTC, 2 min 03 s long" in lines
    assert "  missing: no rpm here: add a held-rpm sheet, an rpm log or a sound recording of the engine" in lines


def test_sheets(read: Read) -> None:
    assert describe(read("gear,rpm\n1,3000\n", "a.csv")) == [
        "a.csv: held-rpm sheet (gear and engine speed)",
        "  column 'gear' -> stated_gear",
        "  column 'rpm' -> engine_rpm [rpm]",
        "  rows: 1 read, 1 with engine speed",
        "  missing: no speed here: add a track (GPX or NMEA) of the same ride",
    ]
    assert describe(read("from_mph,to_mph,time_s\n0,60,5\n", "a.csv")) == [
        "a.csv: sheet of timed runs",
        "  column 'from_mph' -> from_mps [mph]",
        "  column 'to_mph' -> to_mps [mph]",
        "  column 'time_s' -> time_s [s]",
        "  rows: 1 run",
    ]
    dash = describe(read("rpm,indicated_mph\n3000,30\n", "a.csv"))
    assert "  speed: what the speedometer showed" in dash
    assert "  missing: no true speed here: add a track (GPX or NMEA) or a speed that is not from the dash" in dash


def test_sentences(read: Read) -> None:
    bad = rmc(3, 13.0).replace("13.000", "18.000")
    assert describe(read("".join(rmc(k, 10.0 + k) + gga(k) for k in range(3)) + bad, "a.nmea")) == [
        "a.nmea: track of a satellite receiver",
        "  column 'time' -> time_s [UTC]",
        "  column 'RMC speed' -> speed_mps [knots]",
        "  column 'latitude' -> latitude_deg [degrees]",
        "  column 'longitude' -> longitude_deg [degrees]",
        "  column 'GGA altitude' -> elevation_m [m]",
        "  rows: 3 read, 3 with speed",
        "  speed: satellite receiver's own speed",
        "  rate: 1 rows a second (every 1 s)",
        "  pauses: none",
        "  time: from 1994-03-23 00:00:00 UTC, 2.0 s long",
        "  missing: no rpm here: add a held-rpm sheet, an rpm log or a sound recording of the engine",
        "  note: Left out: of 7 sentences (RMC, GGA, VTG, ZDA) 1 with a wrong checksum.",
    ]
