"""The fast way through GPX files gives what the ordinary reader gives, or hands the file back."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.gpx import scan as gpx_scan
from gearfit.importers.gpx.scan import scan_gpx
from gearfit.importers.gpx.uniform import Pattern, read_alike
from tests import fuzz
from tests.importers.gpx_text import gpx, northward, point, second


def outcome(text: str, *, fast: bool, piece: int = 1_000_000) -> object:
    """Everything that a file gives, in pieces of so many letters, or the message."""
    try:
        columns = scan_gpx("a.gpx", lambda: pieces(text, piece), 1 if fast else None)
    except LogError as error:
        return str(error)
    numbers = {name: column.whole().tolist() for name, column in columns.numbers.items()}
    others = {key: value for key, value in vars(columns).items() if key != "numbers"}
    return repr((others | {"stated": sorted(columns.stated)}, numbers))


def pieces(text: str, letters: int) -> Iterator[str]:
    return (text[at : at + letters] for at in range(0, len(text), letters))


def taken(text: str, monkeypatch: pytest.MonkeyPatch) -> bool:
    """Whether all points but the first were read by the fast way."""
    counts: list[int] = []

    def counting(run: str, pattern: Pattern) -> dict[str, NDArray[np.float64]] | None:
        found = read_alike(run, pattern)
        counts.append(0 if found is None else found["unix_s"].size)
        return found

    monkeypatch.setattr(gpx_scan, "read_alike", counting)
    outcome(text, fast=True)
    return sum(counts) == text.count("<trkpt") - 1


def points(count: int, inside: str = "<extensions><a:speed>{k}.5</a:speed><b:rpm>4{k}00</b:rpm></extensions>") -> str:
    return gpx([point(50 + k * 1e-4, 10, second(k), inside.replace("{k}", str(k % 10))) for k in range(count)])


#: One point that differs from the others in each way, and whether the fast way may be taken all the same.
ODD = {
    "nothing": ("", "", True),
    "another value": ("<ele>100.5</ele>", "<ele>7</ele>", True),
    "blanks around a value": ("<ele>100.5</ele>", "<ele> 7\t</ele>", True),
    "an element missing": ("<ele>100.5</ele>", "", False),
    "an empty element": ("<ele>100.5</ele>", "<ele></ele>", False),
    "a blank element": ("<ele>100.5</ele>", "<ele> </ele>", False),
    "an entity": ("<ele>100.5</ele>", "<ele>1&#48;0</ele>", False),
    "a comment": ("<ele>100.5</ele>", "<ele>1<!-- x -->00</ele>", False),
    "a section of characters": ("<ele>100.5</ele>", "<ele><![CDATA[100]]></ele>", False),
    "a blank between elements": ("<ele>100.5</ele>", "<ele>100.5</ele> ", False),
    "another order of attributes": ('lat="50.000300000" lon="10.000000000"', 'lon="10" lat="50"', False),
    "another attribute": ('lon="10.000000000"', 'lon="10" x="1"', False),
    "a position beyond the pole": ('lat="50.000300000"', 'lat="90.1"', False),
    "a position that is none": ('lat="50.000300000"', 'lat="nan"', False),
    "a long value": ("<ele>100.5</ele>", "<ele>100.12345678901234567</ele>", True),
    "an exponent": ("<ele>100.5</ele>", "<ele>1e-7</ele>", True),
    "no number at all": ('lat="50.000300000"', 'lat="north"', False),
    "elements that do not match": ("</ele>", "</elf>", False),
    "a point cut short": ("</trkpt>", "", False),
}


@pytest.mark.parametrize("label", ODD)
@pytest.mark.parametrize("odd", [0, 3, 6])
def test_the_same_outcome(label: str, odd: int, monkeypatch: pytest.MonkeyPatch) -> None:
    old, new, fast = ODD[label]
    old = old.replace("50.000300000", f"50.000{odd}00000")
    parts = points(7).split("<trkpt")
    assert old in parts[odd + 1]
    parts[odd + 1] = parts[odd + 1].replace(old, new, 1)
    text = "<trkpt".join(parts)
    assert outcome(text, fast=True) == outcome(text, fast=False)
    assert taken(text, monkeypatch) == fast


@pytest.mark.parametrize(
    "text",
    [
        gpx(northward(5), northward(3)),
        gpx([*northward(3)], before="<!-- a comment -->"),
        points(3, "<extensions><a:speed>1{k}</a:speed><b:x><speed>2{k}</speed></b:x></extensions>"),
        points(4).replace("<trkpt", "\n   <trkpt"),
        points(4).replace("<trkseg>", "").replace("</trkseg>", ""),
        points(4).replace("<trk>", "<wpt lat='1' lon='1'/><trk>"),
        points(4).replace("trkpt", "g:trkpt"),
        points(4).replace("gpx", "kml"),
        points(4).replace("<trk>", "<!DOCTYPE x><trk>"),
        points(4).replace("<trk>", "<!-- <trkpt lat='1' lon='2'></trkpt></trkseg> --><trk>"),
        points(4).replace("</gpx>", ""),
        points(1),
        gpx([]),
    ],
)
def test_the_same_outcome_of_other_files(text: str) -> None:
    assert outcome(text, fast=True) == outcome(text, fast=False)


def test_equal_lengths_do_not_hide_what_lies_between_points(monkeypatch: pytest.MonkeyPatch) -> None:
    text = points(4).replace("<trkpt", "\n     <trkpt")
    parts = text.split("\n     <trkpt")
    odd = "\n     <trkpt".join(parts[:3]) + "\n<x/> <trkpt" + "\n     <trkpt".join(parts[3:])
    assert len(odd) == len(text)
    assert outcome(odd, fast=True) == outcome(odd, fast=False)
    assert not taken(odd, monkeypatch)
    assert taken(text, monkeypatch)


@pytest.mark.parametrize("seed", range(300))
def test_the_same_outcome_of_mutated_files(seed: int) -> None:
    text = fuzz.mutated(np.random.default_rng([seed, 7]), "GPX", large=False).decode("latin-1")
    assert outcome(text, fast=True) == outcome(text, fast=False)


@pytest.mark.parametrize("letters", [1, 7, 100, 333])
def test_the_same_outcome_in_pieces(letters: int) -> None:
    text = gpx(northward(9), northward(4)).replace("<trkpt", "\n <trkpt")
    assert outcome(text, fast=True, piece=letters) == outcome(text, fast=False)
    damaged = text.replace("</gpx>", "</gpy>")
    assert outcome(damaged, fast=True, piece=letters) == outcome(damaged, fast=False)


def test_a_long_value_that_is_no_number(monkeypatch: pytest.MonkeyPatch) -> None:
    text = (
        points(7).replace("<ele>100.5</ele>", "<ele>nan                  </ele>").replace("<ele>nan", "<ele>100.5", 3)
    )
    assert outcome(text, fast=True) == outcome(text, fast=False)
    assert not taken(text, monkeypatch)
