"""Every key and column stands in docs with its unit, and the citation file is in step."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from gearfit.version import __version__
from tests.glossary.__main__ import PAGES
from tests.glossary.columns import described

ROOT = Path(__file__).resolve().parents[1]
#: End of a name -> unit.
UNITS = {
    "mps": "m/s",
    "kmh": "km/h",
    "mph": "mph",
    "rpm": "rev/min",
    "s": "s",
    "m": "m",
    "mm": "mm",
    "deg": "deg",
    "m2": "m2",
    "kg": "kg",
    "nm": "N m",
    "percent": "%",
    "c": "degC",
    "hpa": "hPa",
}
ENDS = re.compile(r"_(se|lo95|hi95|sd)(?=_|$)")
ROW = re.compile(r"^\| `(?P<name>\w+)` \|.*?(?P<unit>[^|]+) \| [^|]+ \|$", re.MULTILINE)


@pytest.mark.parametrize("name", PAGES)
def test_the_pages_of_keys_and_columns_are_those_of_schema_and_code(name: str) -> None:
    assert (ROOT / "docs" / name).read_text("utf-8") == PAGES[name](), "run: python -m tests.glossary"


@pytest.mark.parametrize("name", PAGES)
def test_every_key_and_column_states_the_unit_that_its_name_ends_with(name: str) -> None:
    stated = [(match["name"], match["unit"].strip()) for match in ROW.finditer(PAGES[name]())]
    expected = {key: UNITS.get(ENDS.sub("", key).rpartition("_")[2]) for key, _ in stated if "_" in key}
    objects = {"rolling_circumference_m", "errors_s", "top_mps"}  # hold keys of their own, each with its unit
    assert [(key, unit, expected[key]) for key, unit in stated if expected.get(key) and key not in objects] == [
        (key, expected[key], expected[key]) for key, unit in stated if expected.get(key) and key not in objects
    ]
    assert len(stated) > 100


def test_no_number_is_without_unit() -> None:
    numbers = re.findall(r"^\| (`\w+` \| (?:number|whole number|estimate) \| –) ", PAGES["keys.md"](), re.MULTILINE)
    assert numbers == [f"`{key}` | number | –" for key in ("value", "se", "lo95", "hi95")], "those of an estimate"


def test_a_column_that_nobody_describes_is_an_error() -> None:
    with pytest.raises(KeyError, match=r"column 'colour_mm': neither results\.schema\.json nor"):
        described("colour_mm", ["gear"])


def test_every_unit_at_the_end_of_a_name_is_explained() -> None:
    text = (ROOT / "docs" / "glossary.md").read_text("utf-8")
    assert {unit for unit in UNITS if f"`_{unit}`" not in text} == set()


def test_the_citation_names_this_version_and_no_person() -> None:
    text = (ROOT / "CITATION.cff").read_text("utf-8")
    assert re.search(r"^version: (.*)$", text, re.MULTILINE)[1] == __version__  # type: ignore[index]
    assert re.findall(r"- name: (.*)", text) == ['"gearfit contributors"']
    assert "family-names" not in text
