"""NMEA sentences: what is read, what is left out and what is said about it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from gearfit.errors import LogError
from gearfit.importers import ReadOptions, read_folder, read_log
from gearfit.records.recording import Recording
from tests.importers.conftest import Read
from tests.importers.nmea_text import gga, rmc, sentence

KNOT_MPS = 1852 / 3600
#: Published sentences with their checksums: K. Betke, The NMEA 0183 Protocol (2001), and the tests of pynmea2.
PUBLISHED = {
    "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A": (
        (48 + 7.038 / 60, 11 + 31 / 60, 22.4 * KNOT_MPS),
        datetime(1994, 3, 23, 12, 35, 19, tzinfo=UTC),
    ),
    "$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68": (
        (49.274167, -123.185333, 0.5 * KNOT_MPS),
        datetime(1994, 11, 19, 22, 54, 46, tzinfo=UTC),
    ),
    "$GPRMC,220516,A,5133.82,N,00042.24,W,173.8,231.8,130694,004.2,W*70": (
        (51.563667, -0.704, 321.8776 / 3.6),
        datetime(1994, 6, 13, 22, 5, 16, tzinfo=UTC),
    ),
}


@pytest.mark.parametrize("text", PUBLISHED)
def test_published_sentences(read: Read, text: str) -> None:
    (latitude_deg, longitude_deg, speed_mps), moment = PUBLISHED[text]
    track = read(text + "\r\n")
    assert (track.kind, track.clock, track.speed_source) == ("track", "utc", "receiver")
    assert track.start_s == moment.timestamp()
    row = track.samples.iloc[0]
    assert (row["latitude_deg"], row["longitude_deg"]) == pytest.approx((latitude_deg, longitude_deg), abs=1e-6)
    assert row["speed_mps"] == pytest.approx(speed_mps, rel=1e-6)
    assert track.notes == ()


def test_published_sentences_of_speed_and_height(read: Read) -> None:
    """The VTG has no time of its own: it belongs to the GGA before it. Sources as above."""
    track = read(
        "$GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000*6D\r\n"
        "$GPVTG,220.86,T,,M,2.550,N,4.724,K,A*34\r\n"
    )
    row = track.samples.iloc[0]
    assert (track.clock, track.start_s) == ("time of day", 18 * 3600 + 43 * 60 + 53.07)
    assert row["speed_mps"] == pytest.approx(2.550 * KNOT_MPS)
    assert row["elevation_m"] == 100.0
    assert row["latitude_deg"] == pytest.approx(-(19 + 29.045 / 60))


@pytest.mark.parametrize("talker", ["GP", "GN", "GL", "GA", "BD"])
def test_any_talker_and_foreign_sentences(read: Read, talker: str) -> None:
    foreign = sentence("GPGSV,1,1,01,02,25,181,42") + sentence("PXRMC,1,A") + "!AIVDM,1,1,,A,15M67F,0*22\r\nnoise\r\n"
    track = read("".join(foreign + rmc(k, 10.0 + k, talker=talker) for k in range(5)))
    assert track.samples["speed_mps"].tolist() == pytest.approx([(10 + k) * KNOT_MPS for k in range(5)])
    assert track.samples["row"].tolist() == [5 + 5 * k for k in range(5)]


def test_midnight(read: Read) -> None:
    before = [rmc(86398 + k, 10.0, date="311299") for k in range(2)]
    after = [rmc(k, 10.0, date="010100") for k in range(2)]
    track = read("".join([*before, *after]))
    assert track.start_s == datetime(1999, 12, 31, 23, 59, 58, tzinfo=UTC).timestamp()
    assert track.samples["time_s"].tolist() == [0, 1, 2, 3]


def test_midnight_without_dates(read: Read) -> None:
    speed = sentence("GPVTG,,T,,M,5.5,N,10.2,K,A")
    track = read("".join(gga(second) + speed for second in (86399, 0, 1)))
    assert (track.clock, track.start_s) == ("time of day", 86399.0)
    assert track.samples["time_s"].tolist() == [0, 1, 2]


def test_a_date_from_zda(read: Read) -> None:
    zda = sentence("GPZDA,120000.00,01,05,2024,00,00")
    track = read(zda + "".join(gga(43200 + k) + sentence(f"GPVTG,,T,,M,{k}.5,N,,K,A") for k in range(3)))
    assert track.clock == "utc"
    assert track.start_s == datetime(2024, 5, 1, 12, tzinfo=UTC).timestamp()
    assert track.samples["speed_mps"].tolist() == pytest.approx([0.5 * KNOT_MPS, 1.5 * KNOT_MPS, 2.5 * KNOT_MPS])


def test_void_fixes(read: Read) -> None:
    track = read(rmc(0, 10.0) + rmc(1, "", status="V") + rmc(2, 11.0) + rmc(3, 99.0, status="V") + rmc(4, 12.0))
    assert track.samples["time_s"].tolist() == [0, 2, 4]
    assert track.notes == ("2 moments in which the receiver had no fix left out.",)


def test_heights_and_speeds_of_one_moment_come_together(read: Read) -> None:
    track = read("".join(rmc(k, 10.0 + k) + gga(k, height=100.0 + k) for k in range(3)))
    assert track.samples["elevation_m"].tolist() == [100, 101, 102]
    assert len(track.samples) == 3


def test_positions_without_speed(read: Read) -> None:
    lines = "".join(gga(k, lat=f"48{k * 0.010:07.4f},N") for k in range(40))
    track = read(lines)
    assert track.speed_source == "position"
    # 0.010 minutes of latitude at 48 degrees: the meridian arc there is 111.2 km a degree (WGS84, common tables).
    assert track.samples["speed_mps"].to_numpy() == pytest.approx(111_200 * 0.010 / 60, rel=1e-3)


def test_wrong_checksums_are_counted_and_left_out(read: Read) -> None:
    bad = rmc(1, 11.0).replace("11.000", "17.000")
    without = rmc(2, 12.0).split("*")[0] + "\r\n"
    track = read(rmc(0, 10.0) + bad + without + rmc(3, 13.0))
    assert track.samples["time_s"].tolist() == [0, 3]
    assert track.notes == (
        "Left out: of 4 sentences (RMC, GGA, VTG, ZDA) 1 with a wrong checksum and 1 without a checksum.",
    )


def test_wrong_checksums_accepted_as_asked(tmp_path: Path) -> None:
    path = tmp_path / "ride"
    path.write_text(rmc(0, 10.0) + rmc(1, 11.0).replace("11.000", "17.000"))
    track = read_log(path, options=ReadOptions(accept_bad_checksums=True))
    assert track.samples["speed_mps"].tolist() == pytest.approx([10 * KNOT_MPS, 17 * KNOT_MPS])
    assert track.notes == ("As asked, of 2 sentences (RMC, GGA, VTG, ZDA) 1 with a wrong checksum were used as well.",)


def test_only_wrong_checksums(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read(rmc(0, 10.0).replace("10.000", "19.000"), "a.nmea")
    assert str(caught.value) == (
        "a.nmea, line 1: of its 1 sentences (RMC, GGA, VTG, ZDA) 1 with a wrong checksum; allowed is $...*hh in most "
        "of them, where hh proves that the sentence arrived whole. Record or export the file again; if only the "
        "checksums are wrong, use --accept-bad-checksums."
    )


def test_the_folder_hands_the_choice_on(tmp_path: Path) -> None:
    (tmp_path / "before").mkdir()
    (tmp_path / "before" / "a").write_text(rmc(0, 10.0) + rmc(1, 11.0).replace("11.000", "17.000"))
    assert len(read_folder(tmp_path).setups[0].recordings[0].samples) == 1
    assert len(read_folder(tmp_path, accept_bad_checksums=True).setups[0].recordings[0].samples) == 2


def test_a_sentence_cut_by_the_next(read: Read) -> None:
    track = read(rmc(0, 10.0)[:30] + rmc(1, 11.0))
    assert track.samples["speed_mps"].tolist() == pytest.approx([11 * KNOT_MPS])
    assert track.notes == ("Left out: of 2 sentences (RMC, GGA, VTG, ZDA) 1 without a checksum.",)


def test_bytes_of_another_protocol_between_the_sentences(read: Read) -> None:
    track = read(b"".join(rmc(k, 10.0).encode() + b"\xb5\x62\x01\x07\x00\x00\x08\x19" for k in range(5)))
    assert len(track.samples) == 5


def test_no_sentence_of_use(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read(sentence("GPGSV,1,1,01,02,25,181,42") * 3, "a.nmea")
    assert str(caught.value) == (
        "a.nmea: none of its 3 sentences is one of RMC, GGA, VTG, ZDA, which hold time, position and speed. Switch RMC "
        "on in the receiver or recorder."
    )


def test_never_a_fix(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read(rmc(0, "", status="V") + rmc(1, "", status="V"), "a.nmea")
    assert str(caught.value) == (
        "a.nmea: there is no fix with a time in 2 moments (2 moments in which the receiver had no fix left out); "
        "allowed is a recording made with the receiver in view of the sky. Record the ride again, outside and with RMC "
        "sentences on."
    )


@pytest.mark.parametrize(
    ("body", "found"),
    [
        ("GNVTG,65.13,T,52.07,M,5.028,N,9.3,K,D", "any sentence"),
        ("GPGGA,,,,,,0,,,,,,,,", "any sentence"),
        ("GPRMC,,V,,,,,,,,,", "any sentence"),
        ("GPZDA,120000,01,05,2024,00,00", "1 moment (1 moment without a position left out)"),
    ],
)
def test_one_kind_of_sentence_without_a_fix(read: Read, body: str, found: str) -> None:
    with pytest.raises(LogError) as raised:
        read(sentence(body) * 5, "a.nmea")
    assert str(raised.value) == (
        f"a.nmea: there is no fix with a time in {found}; allowed is a recording made with the receiver in view of the "
        "sky. Record the ride again, outside and with RMC sentences on."
    )


def test_moments_repeated_and_out_of_order(read: Read) -> None:
    track = read(rmc(0, 10.0) + rmc(2, 12.0) + rmc(1, 11.0) + rmc(2, 13.0))
    assert track.samples["time_s"].tolist() == [0, 1, 2]
    assert track.notes == (
        "1 moment out of order put in order of time.",
        "1 moment with the time of an earlier one left out.",
    )


def test_standard_error_is_that_of_the_written_step(read: Read) -> None:
    track: Recording = read("".join(rmc(k, 10 + 0.1 * (k % 7) + 0.1 * k) for k in range(60)))
    assert track.speed_step_mps == pytest.approx(0.1 * KNOT_MPS)
    assert track.samples["speed_sd_mps"].to_numpy() == pytest.approx(0.1 * KNOT_MPS / np.sqrt(12))
