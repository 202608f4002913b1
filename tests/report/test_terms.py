"""Every label of page, help and documents is one of the project's own: a new one is a decision."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from gearfit.cli import main
from gearfit.report.evidence import PLACES
from gearfit.report.figures import KINDS
from gearfit.report.story import QUESTIONS, VERDICTS
from gearfit.report.terms import TERMS
from tests.report import example
from tests.report.conftest import Reports

ROOT = Path(__file__).parents[2]
#: One label a line. Whoever adds one says by that that it belongs to the trade, an open standard or to this project.
KNOWN = set((Path(__file__).parent / "terms.txt").read_text("utf-8").splitlines())
NAMES = {"before", "after", "motorway set with the larger front sprocket"}
LABEL = re.compile(r"<(h2|h3|dt|legend|th scope=\"col\")>(.*?)</", re.DOTALL)


def plain(text: str) -> str:
    """A label without markup, numbers, and names of setups."""
    bare = re.sub(r"<[^>]*>", "", text)
    bare = re.sub(r"\(\d+/\d+\)", "", bare)
    for name in sorted(NAMES, key=len, reverse=True):
        bare = re.sub(rf"\b{name}\b", "#", bare)
    return " ".join(re.sub(r"\d+", "0", bare).split())


def labels(reports: Reports, capsys: pytest.CaptureFixture[str]) -> set[str]:
    found = set()
    for make in example.ALL:
        if make is not example.nasty_names:
            page = reports(make)["report.html"].read_text("utf-8")
            found |= {plain(text) for _, text in LABEL.findall(page)}
    found |= {*QUESTIONS, *VERDICTS.values(), *TERMS, *(kind.title for kind in KINDS)}
    for command in ("report", "check", "new"):
        with pytest.raises(SystemExit):
            main([command, "--help"])
        found |= set(re.findall(r"--[a-z-]+", capsys.readouterr().out))
    for path in (ROOT / "README.md", ROOT / "docs" / "results.md", ROOT / "docs" / "formats.md"):
        found |= {
            plain(line.lstrip("# ")) for line in path.read_text("utf-8").splitlines() if re.match(r"#+ [A-Z]", line)
        }
    return {label for label in found if label}


def test_every_label_is_a_known_one(reports: Reports, capsys: pytest.CaptureFixture[str]) -> None:
    found = labels(reports, capsys)
    assert sorted(found - KNOWN) == [], "new labels: decide on each, then add it to tests/report/terms.txt"
    assert len(found) > 80


def test_evidence_names_no_two_places_for_one_code() -> None:
    assert all(len(places) == len(set(places)) for places in PLACES.values())
