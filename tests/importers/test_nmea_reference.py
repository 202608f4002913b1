"""The columnar reader against pynmea2, sentence by sentence, and against a real reference drive."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pynmea2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearfit.errors import LogError
from gearfit.importers import ReadOptions, read_log
from gearfit.importers.nmea.sentences import find_sentences
from gearfit.records.recording import Recording
from gearfit.units import MPS_PER_KNOT
from tests.importers.nmea_text import sentence
from tests.outside import outside_file

#: A drive with a receiver and a tactical-grade reference: google/gps-measurement-tools, NmeaUtils/example, Apache-2.0.
RECEIVER = "*.nmea"
REFERENCE = "*.gga"


def parsed(line: str, *, check: bool = True) -> pynmea2.NMEASentence | None:
    """Return what pynmea2 makes of a line; None where it refuses it."""
    try:
        return pynmea2.parse(line, check=check)
    except (pynmea2.ParseError, ValueError):
        return None


def equal_to_pynmea2(track: Recording, lines: list[str]) -> int:
    """Compare every RMC that pynmea2 reads with our row of the same line; return how many there were."""
    ours = track.samples.set_index("row")
    compared = 0
    for number, line in enumerate(lines, 1):
        theirs = parsed(line)
        if theirs is None or theirs.sentence_type != "RMC" or theirs.status != "A":
            continue
        row = ours.loc[number]
        assert row["speed_mps"] == pytest.approx(float(theirs.spd_over_grnd) * MPS_PER_KNOT, rel=1e-12)
        assert row["latitude_deg"] == pytest.approx(theirs.latitude, abs=1e-11)
        assert row["longitude_deg"] == pytest.approx(theirs.longitude, abs=1e-11)
        assert track.start_s is not None
        assert row["time_s"] + track.start_s == pytest.approx(theirs.datetime.timestamp(), abs=1e-5)
        compared += 1
    return compared


def test_a_real_recording_reads_as_pynmea2_reads_it() -> None:
    path = outside_file("gnss_nmea", RECEIVER)
    lines = path.read_text("latin-1").splitlines()[:12_000]
    with TemporaryDirectory() as folder:
        part = Path(folder) / "part"
        part.write_text("\n".join(lines), "latin-1")
        track = read_log(part)
    compared = equal_to_pynmea2(track, lines)
    assert compared == len(track.samples) > 400
    heights = {
        str(found.timestamp): float(found.altitude)
        for found in map(parsed, lines)
        if found is not None and found.sentence_type == "GGA"
    }
    assert sorted(heights.values()) == pytest.approx(sorted(track.samples["elevation_m"].dropna()))


def test_checksums_are_found_right_where_pynmea2_finds_them_right() -> None:
    lines = outside_file("gnss_nmea", RECEIVER).read_text("latin-1").splitlines()[:12_000]
    found = find_sentences("\n".join(lines).encode("latin-1"))
    good = set(found.line[found.good].tolist())
    assert good == {number for number, line in enumerate(lines, 1) if _right(line)}


def _right(line: str) -> bool:
    body, _, stated = line.removeprefix("$").partition("*")
    return bool(stated) and int(stated, 16) == pynmea2.NMEASentence.checksum(body)


def test_the_receiver_against_the_reference() -> None:
    """Targets: ratio 0.9997 +- 0.0005 and rms below 0.12 km/h, as measured apart from this code.

    In the reference the checksum of every RMC is wrong and that of every GGA is right.
    """
    receiver = read_log(outside_file("gnss_nmea", RECEIVER))
    path = outside_file("gnss_nmea", REFERENCE)
    with pytest.raises(LogError) as caught:
        read_log(path)
    assert str(caught.value).startswith(
        f"{path.name}, line 2: of its 1748 sentences (RMC) 1748 with a wrong checksum; "
    )
    reference = read_log(path, options=ReadOptions(accept_bad_checksums=True))
    assert receiver.start_s is not None
    assert reference.start_s is not None
    ours, true = (track.samples["time_s"].to_numpy() + (track.start_s or 0) for track in (receiver, reference))
    _, i, j = np.intersect1d(ours, true, return_indices=True)
    assert i.size > 1600
    measured = receiver.samples["speed_mps"].to_numpy()[i]
    truth = reference.samples["speed_mps"].to_numpy()[j]
    assert measured @ truth / (truth @ truth) == pytest.approx(0.9997, abs=0.0005)
    assert 3.6 * np.sqrt(np.mean((measured - truth) ** 2)) < 0.12


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["GP", "GN", "GL", "GA"]),
            st.floats(0, 250).map(lambda knots: f"{knots:.3f}"),
            st.floats(0, 59.9999).map(lambda minutes: f"{minutes:07.4f}"),
            st.integers(0, 89),
            st.integers(0, 179),
            st.sampled_from("NS"),
            st.sampled_from("EW"),
            st.sampled_from(["A", "A", "A", "V"]),
        ),
        min_size=1,
        max_size=30,
    ),
    st.dates(min_value=date(1990, 1, 1), max_value=date(2060, 1, 1)),
)
def test_any_rmc_reads_as_pynmea2_reads_it(
    rows: list[tuple[str, str, str, int, int, str, str, str]], day: date
) -> None:
    lines = [
        sentence(
            f"{talker}RMC,{10 + k // 60:02d}{k % 60:02d}07.25,{status},{lat:02d}{minutes},{north},{lon:03d}{minutes},"
            f"{east},{knots},84.4,{day:%d%m%y},,,A"
        ).rstrip()
        for k, (talker, knots, minutes, lat, lon, north, east, status) in enumerate(rows)
    ]
    valid = sum(row[-1] == "A" for row in rows)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "ride"
        path.write_text("\n".join(lines))
        if not valid:
            with pytest.raises(LogError):
                read_log(path)
            return
        assert equal_to_pynmea2(read_log(path), lines) == valid
