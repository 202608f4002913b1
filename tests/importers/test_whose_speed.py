"""Whose speed a column holds: a receiver's, the machine's own, or nobody says."""

from __future__ import annotations

import pytest

from gearfit.importers import describe
from gearfit.importers.common.headers import read_header
from gearfit.importers.common.named import meaning_of
from gearfit.machine.bike import ColumnNames
from tests.importers.conftest import Read


@pytest.mark.parametrize(
    ("header", "kind"),
    [
        ("GPS speed (km/h)", "receiver"),
        ("Speed (GNSS) [m/s]", "receiver"),
        ("Satellite speed (mph)", "receiver"),
        ("Vehicle Speed Sensor [km/h]", "machine"),
        ("Speed (OBD)(km/h)", "machine"),
        ("rear wheel speed (km/h)", "machine"),
        ("ECU speed mph", "machine"),
        ("VSS speed [km/h]", "machine"),
        ("Speed (GPS, km/h)", "receiver"),
        ("Speed (km/h; OBD)", "machine"),
        ("speed_kmh", ""),
    ],
)
def test_what_a_header_says(header: str, kind: str) -> None:
    meaning = read_header(header)
    assert meaning is not None
    assert (meaning.channel, meaning.kind, meaning.fault) == ("speed_mps", kind, "")


def test_a_column_that_the_rider_named_keeps_its_kind() -> None:
    meaning = meaning_of("Vehicle v", ColumnNames(speed="Vehicle v", speed_unit="km/h"))
    assert meaning is not None
    assert (meaning.channel, meaning.kind) == ("speed_mps", "machine")


POSITIONS = "".join(f"{k},{50 + k * 1e-4:.4f},10,40,3000\n" for k in range(20))


@pytest.mark.parametrize(
    ("text", "source"),
    [
        ("time_s,speed_kmh,rpm\n0,40,3000\n1,41,3100\n", "wheel or logger"),
        (f"time_s,lat,lon,speed_kmh,rpm\n{POSITIONS}", "receiver"),
        ("time_s,GPS altitude (m),speed_kmh,rpm\n0,120,40,3000\n1,121,41,3100\n", "receiver"),
        (f"time_s,lat,lon,vehicle_speed_kmh,rpm\n{POSITIONS}", "machine"),
        ("time_s,OBD speed (km/h),rpm\n0,40,3000\n1,41,3100\n", "machine"),
        ("time_s,OBD raw\n0,41 0D 32\n1,41 0C 1A F8\n", "machine"),
        ("time_s,indicated_kmh,rpm\n0,40,3000\n1,41,3100\n", "speedometer"),
        ("gear,rpm,speed_kmh\n3,4000,50\n", "hand"),
        ("gear,rpm,vehicle_speed_kmh\n3,4000,50\n", "machine"),
    ],
)
def test_the_kind_is_kept_with_the_recording(read: Read, text: str, source: str) -> None:
    assert read(text).speed_source == source
    assert read("# " + "x" * 3 + "\n" + text.replace("\n0,", "\n\n0,")).speed_source == source, "the ordinary reader"


def test_check_says_whose_speed_it_is(read: Read) -> None:
    lines = describe(read("time_s,OBD speed (km/h),rpm\n0,40,3000\n1,41,3100\n"))
    assert "  speed: what the machine itself says (vehicle, wheel, OBD or ECU speed)" in lines
    assert (
        "  missing: no true speed here, only the machine's own: add a track (GPX or NMEA) of the same ride"
    ) in lines
