"""Delimiter, decimal comma, encoding, comments and units change nothing about what is read."""

from __future__ import annotations

import codecs
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearfit.importers import read_log
from gearfit.records.recording import Recording
from tests.importers.conftest import Read

ROWS = [(0.0, 36.5, 3000.0), (0.5, 40.25, 3100.5), (1.0, 44.75, 3250.0)]


def written(delimiter: str, comma: bool, before: str = "", after: str = "", end: str = "\n") -> str:
    lines = [delimiter.join(("time_s", "speed_kmh", "Temp °C", "rpm")) + after]
    for time_s, speed, rpm in ROWS:
        cells = delimiter.join((f"{time_s}", f"{speed}", "21", f"{rpm}"))
        lines.append((cells.replace(".", ",") if comma else cells) + after)
    return before + end.join(lines) + end


def same(one: Recording, other: Recording, but: tuple[str, ...] = ("row",)) -> None:
    pd.testing.assert_frame_equal(one.samples.drop(columns=list(but)), other.samples.drop(columns=list(but)))


@pytest.mark.parametrize(
    ("delimiter", "comma"), [(",", False), *((mark, comma) for mark in (";", "\t", "|") for comma in (False, True))]
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_delimiters_and_decimals(read: Read, delimiter: str, comma: bool, end: str) -> None:
    same(read(written(delimiter, comma, end=end)), read(written(",", False)))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_encodings(read: Read, encoding: str) -> None:
    same(read(written(";", True).encode(encoding)), read(written(",", False)))


def test_a_degree_sign_encoded_twice(read: Read) -> None:
    twice = written(",", False).encode().decode("latin-1").encode()
    assert b"\xc3\x82\xc2\xb0" in twice
    same(read(twice), read(written(",", False)))


def test_utf_16_big_endian_with_mark(read: Read) -> None:
    same(read(codecs.BOM_UTF16_BE + written(",", False).encode("utf-16-be")), read(written(",", False)))


def test_comments_blank_lines_trailing_delimiters_and_lines_above(read: Read) -> None:
    plain = read(written(",", False))
    same(read(written(";", False, before="# my ride\n#;;\n\n", after=";")), plain)
    noted = read(written(";", False, before="sep=;\n\n"))
    same(noted, plain)
    assert noted.notes == ("1 line above the header skipped.", "1 other column not used.")
    assert noted.samples["row"].tolist() == [4, 5, 6]


def test_comments_between_rows_keep_line_numbers(read: Read) -> None:
    log = read("rpm,speed_kmh\n3000,50\n# the wind came up\n\n4000,66\n")
    assert log.samples["row"].tolist() == [2, 5]


def test_a_row_of_units_below_the_header(read: Read) -> None:
    log = read("time;speed;rpm\ns;km/h;rpm\n0;36;3000\n1;72;3500\n")
    assert log.samples["speed_mps"].tolist() == pytest.approx([10, 20])
    assert log.samples["row"].tolist() == [3, 4]


def test_quoted_cells(read: Read) -> None:
    log = read('"time_s","speed_kmh"\n"0,0","36,5"\n"1,0","40,25"\n')
    assert log.samples["speed_mps"].tolist() == pytest.approx([36.5 / 3.6, 40.25 / 3.6])


def test_a_row_with_more_cells_than_headers(read: Read) -> None:
    log = read("time_s,rpm\n0,1000\n1,1100,9\n2,1200\n")
    assert log.samples["row"].tolist() == [2, 4]
    assert log.notes == ("1 row with more cells than headers left out (the first is line 3).",)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(0, 3000), min_size=2, max_size=20), st.sampled_from(["mph", "mps", "knots"]))
def test_any_unit_gives_the_same_metres_per_second(tenths_kmh: list[int], unit: str) -> None:
    per_unit = {"mph": 1609.344 / 3600, "mps": 1.0, "knots": 1852 / 3600}[unit]
    kmh = "".join(f"{k},{tenths / 10}\n" for k, tenths in enumerate(tenths_kmh))
    other = "".join(f"{k},{tenths / 36 / per_unit:.12f}\n" for k, tenths in enumerate(tenths_kmh))
    with TemporaryDirectory() as folder:
        one, two = Path(folder) / "one", Path(folder) / "two"
        one.write_text("time_s,speed_kmh\n" + kmh)
        two.write_text(f"time_s,speed_{unit}\n" + other)
        np.testing.assert_allclose(
            read_log(one).samples["speed_mps"], read_log(two).samples["speed_mps"], rtol=1e-9, atol=1e-9
        )
