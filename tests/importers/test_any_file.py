"""Whatever a file holds, the outcome is a table or one of our errors in one line, and one format at most says yes."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from gearfit.errors import GearfitError, LogError
from gearfit.importers import describe, read_log
from gearfit.importers.common.content import read_content
from gearfit.importers.formats import FORMATS
from gearfit.records.recording import Recording
from gearfit.records.schema import SAMPLE_DTYPES, check_samples
from tests import fuzz
from tests.outside import outside_data

SAMPLES = Path(__file__).parents[2] / "sample_logs"


def read_or_refuse(path: Path) -> Recording | GearfitError:
    try:
        return read_log(path, options=fuzz.OPTIONS)
    except GearfitError as error:
        return error


def outcome(data: bytes) -> int | None:
    """Return the number of rows, or None for one of our errors."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "ride"
        path.write_bytes(data)
        recording = read_or_refuse(path)
    if isinstance(recording, GearfitError):
        assert isinstance(recording, LogError)
        assert "\n" not in str(recording)
        assert str(recording).endswith(".")
        return None
    samples = recording.samples
    check_samples(samples)
    assert list(samples.columns) == list(SAMPLE_DTYPES)
    assert np.isfinite(samples["time_s"]).all() or recording.clock == "none"
    assert not (samples["speed_fresh"] & samples["speed_mps"].isna()).any()
    assert describe(recording)
    return len(samples) + len(recording.runs)


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400))
@example(b"\xff\xfe\x00")
@example(b"\xef\xbb\xbf\n")
@example(b'<?xml version="1.0" encoding="none"?><gpx/>')
def test_any_bytes(data: bytes) -> None:
    outcome(data)


CELL = st.one_of(
    st.integers(-10, 30_000).map(str),
    st.floats(allow_nan=True, allow_infinity=True).map(str),
    st.sampled_from(
        ["", "-", "12:00:00", "11:59:59 PM", "2024-05-01T12:00:00Z", "1,5", "=1+1", "rpm", "N", "41 0C 1A F8"]
    ),
    st.text(max_size=6),
)
HEADERS = (
    "time_s",
    "Time",
    "date",
    "speed_kmh",
    "Speed (mph)",
    "rpm",
    "gear",
    "indicated_kmh",
    "lat",
    "lon",
    "OBD raw",
    "from_kmh",
    "to_kmh",
    "value",
    "channel",
    "unit",
    "Tempo",
    "other",
)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.sampled_from(HEADERS), min_size=2, max_size=6),
    st.lists(st.lists(CELL, max_size=7), max_size=15),
    st.sampled_from(",;\t|"),
)
def test_any_table_of_text(headers: list[str], rows: list[list[str]], delimiter: str) -> None:
    lines = [delimiter.join(headers), *(delimiter.join(row) for row in rows)]
    outcome("\n".join(lines).encode("utf-8", "replace"))


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(sorted(fuzz.SOURCES)), st.integers(0, 2**32 - 1))
def test_any_file_of_a_format_with_a_few_changes(source: str, seed: int) -> None:
    outcome(fuzz.mutated(np.random.default_rng(seed), source, large=False))


def makers() -> list[str]:
    return sorted(fuzz.SOURCES)


@pytest.mark.parametrize("source", makers())
def test_the_unchanged_file_is_read(source: str) -> None:
    assert outcome(fuzz.SOURCES[source](np.random.default_rng(1)))


def said_yes(path: Path) -> list[str]:
    found = read_content(path, path.name)
    return [entry.label for entry in FORMATS if entry.recognise(found, fuzz.OPTIONS)]


EXPECTED = {
    "text logs": "delimited text",
    "own time columns": "delimited text",
    "sheets": "delimited text",
    "GPX": "a GPX track",
    "NMEA": "NMEA sentences",
    "WAV": "a WAV or FLAC",
    "FLAC": "a WAV or FLAC",
}


@pytest.mark.parametrize("source", makers())
def test_of_all_detectors_exactly_one_says_yes(tmp_path: Path, source: str) -> None:
    for seed in range(12):
        (tmp_path / "ride").write_bytes(fuzz.SOURCES[source](np.random.default_rng(seed)))
        (label,) = said_yes(tmp_path / "ride")
        assert label.startswith(EXPECTED[source])


FOREIGN = {
    "json": b'{"time": [1, 2], "speed_kmh": [3, 4]}',
    "page": b"<!doctype html><title>time,rpm</title>",
    "picture": b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR",
    "film": b"\0\0\0\x20ftypisom\0\0\x02\0",
    "film in parts": b"RIFF\0\0\0\0AVI LIST",
    "archive": b"PK\x03\x04\x14\0",
    "prose": b"A fine ride, no time for rpm.\n",
    "money": b"$100, $200, and $300\n",
    "TOML": b'name = "x"\n[engine]\ncylinders = 2\n',
}


@pytest.mark.parametrize("name", FOREIGN)
def test_no_detector_says_yes_to_other_files(tmp_path: Path, name: str) -> None:
    (tmp_path / "ride").write_bytes(FOREIGN[name])
    assert said_yes(tmp_path / "ride") == []


def test_sample_and_open_files_have_one_format_each() -> None:
    paths = [path for path in SAMPLES.rglob("*.*") if path.suffix in (".csv", ".gpx") and "report" not in path.parts]
    paths += [*outside_data("gnss_nmea").glob("MTV*"), *outside_data("gpx_corner_cases").glob("*.gpx")]
    paths += [*outside_data("gps_drives").glob("*.csv"), *outside_data("obd_car").glob("*.csv")]
    assert len(paths) > 20
    for path in paths:
        assert len(said_yes(path)) == 1, path.name


def test_a_short_run_of_the_fuzzer() -> None:
    """The long one is `python -m tests.fuzz`; its results stand in docs/fuzzing.md."""
    for source in makers():
        assert fuzz.run(source, 19, seed=7).faults == []
