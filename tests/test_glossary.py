"""The glossary names every unit that keys and columns end with, and the citation file is in step."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from gearfit.report.results_json import results_text
from gearfit.version import __version__
from tests.report import example

ROOT = Path(__file__).resolve().parents[1]
UNITS = {"mps", "kmh", "mph", "rpm", "s", "m", "mm", "deg", "kg", "nm", "percent"}


def keys(node: Any) -> set[str]:
    if isinstance(node, dict):
        return set(node).union(*(keys(part) for part in node.values()))
    return set().union(*(keys(part) for part in node)) if isinstance(node, list) else set()


def test_every_unit_at_the_end_of_a_name_is_explained() -> None:
    text = (ROOT / "docs" / "glossary.md").read_text("utf-8")
    assert {unit for unit in UNITS if f"`_{unit}`" not in text} == set()
    names = keys(json.loads(results_text(example.two_setups()))) | set(example.two_setups().samples_frame().columns)
    assert {name.rpartition("_")[2] for name in names if name.count("_") and name.rpartition("_")[2] in UNITS} >= {
        "mps",
        "s",
        "m",
        "percent",
    }


def test_the_citation_names_this_version_and_no_person() -> None:
    text = (ROOT / "CITATION.cff").read_text("utf-8")
    assert re.search(r"^version: (.*)$", text, re.MULTILINE)[1] == __version__  # type: ignore[index]
    assert re.findall(r"- name: (.*)", text) == ['"gearfit contributors"']
    assert "family-names" not in text
