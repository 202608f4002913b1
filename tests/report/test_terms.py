"""Every label of page, pictures, help and documents is one of the project's own: a new one is a decision.

A label is a short text that names something: headings, heads of tables and their rows, cells that hold words alone,
verdicts, buttons and choices, words on axes and in legends; commands, options and names of their values;
 codes of findings; headings and table heads of the documents. Sentences are not labels.
`terms.txt` lists them, one a line: names of setups and files stand there as # and FILE, numbers as 0, both units of
speed as km/h.
"""

from __future__ import annotations

import ast
import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import gearfit
from gearfit.commands.cli import main
from gearfit.report.figures.drawn import KINDS
from gearfit.report.page.codes import CODES, QUESTIONS
from gearfit.report.page.terms import TERMS
from tests.report import example
from tests.report.conftest import Reports
from tests.report.three_sets import REAR

ROOT = Path(__file__).parents[2]
KNOWN = set((Path(__file__).parent / "terms.txt").read_text("utf-8").splitlines())
NAMES = ("before", "after", *REAR)
ELEMENT = re.compile(r"<(h2|h3|dt|legend|label|button|th|td|small|text)\b[^>]*>(.*?)</\1>", re.DOTALL)
CLASS = re.compile(r'<(p|span) class="(?:label|verdict|mark|eyebrow)"[^>]*>(.*?)</\1>', re.DOTALL)
MACHINES = {"Larkrise 0 C", "Tidemill 0"}
#: Records of studies and measurements: their headings count, the heads of their tables do not.
STUDIES = re.compile(r"validation.*|benchmarks|fuzzing")
#: How sure answers are.
VERDICTS = {word for entry in CODES.values() for word in (entry.verdict, *entry.by_outcome.values()) if word}
#: Documents made from the schema, whose names are settled there.
MADE = ("keys.md", "columns.md")


def plain(text: str) -> str:
    """A label without markup, numbers, and names of setups and files."""
    bare = html.unescape(re.sub(r"<[^>]*>", " ", text)).replace("\N{WORD JOINER}", "")
    bare = re.sub(r"\(\d+/\d+\)|\b\d+/\d+\b", "", bare)
    bare = re.sub(r"\bmph\b", "km/h", bare)
    for name in NAMES:
        bare = re.sub(rf"\b{name}\b", "#", bare)
    bare = re.sub(r"\S+\.(csv|gpx|txt|toml)\b", "FILE", bare)
    bare = re.sub(r"\b\d+(st|nd|rd|th)\b", "0th", bare)
    return " ".join(re.sub(r"[+\N{MINUS SIGN}]?\d+(\.\d+)?", "0", re.sub(r"(?<=\d)\s(?=\d)", "", bare)).split())


def of_page(page: str) -> Iterator[str]:
    """Labels of a page, its pictures, and what its script says."""
    for tag, whole in (*ELEMENT.findall(page), *CLASS.findall(page)):
        for unit in re.split(r'<span class="(?:kmh|mph)">|<small>', whole):
            if tag != "td" or not re.search(r"\d", unit):  # cells with numbers in them are values
                yield plain(unit)


def of_help(capsys: pytest.CaptureFixture[str]) -> Iterator[str]:
    """Commands, options, and names of their values."""
    for command in ("", *commands(capsys)):
        yield command
        with pytest.raises(SystemExit):
            main([*command.split(), "--help"])
        usage = capsys.readouterr().out.split("\n\n")[0]
        yield from re.findall(r"--[a-z-]+|\b[A-Z][A-Z-]+\b", usage)


def commands(capsys: pytest.CaptureFixture[str]) -> list[str]:
    with pytest.raises(SystemExit):
        main(["--help"])
    return re.findall(r"^    ([a-z]+)(?: |$)", capsys.readouterr().out, re.MULTILINE)


def of_findings() -> Iterator[str]:
    """Codes of findings, by which programs know them."""
    for path in sorted((Path(gearfit.__file__).parent / "findings").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Finding":
                yield from (
                    each.value
                    for each in ast.walk(node.args[1])
                    if isinstance(each, ast.Constant) and isinstance(each.value, str)
                )


def of_documents() -> Iterator[str]:
    """Headings and heads of tables."""
    for path in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
        if path.name in MADE:
            continue
        text = re.sub(r"^```.*?^```", "", path.read_text("utf-8"), flags=re.DOTALL | re.MULTILINE)
        yield from (plain(heading) for heading in re.findall(r"^#+ (.*)$", text, re.MULTILINE))
        for head in [] if STUDIES.fullmatch(path.stem) else re.findall(r"^\|(.*)\|\n\|[-:| ]+\|$", text, re.MULTILINE):
            yield from (plain(cell) for cell in head.split("|"))


#: Examples of long and strange names; the folder of three sprocket sets has the same labels.
OTHER_NAMES = (example.nasty_names, example.three_setups)


@pytest.fixture(scope="module")
def pages(reports: Reports, ridden: Path, three: Path) -> list[str]:
    made = [reports(make)["report.html"] for make in example.ALL if make not in OTHER_NAMES]
    return [path.read_text("utf-8") for path in (*made, ridden, three)]


def test_every_label_is_a_known_one(pages: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    found = {label for page in pages for label in of_page(page)}
    found |= {*QUESTIONS, *VERDICTS, *TERMS, *(kind.title for kind in KINDS)}
    found |= {*of_help(capsys), *of_findings(), *of_documents()}
    found = {label for label in found if re.search(r"[A-Za-z]", label)} - MACHINES
    assert sorted(found - KNOWN) == [], "new labels: decide on each, then add it to tests/report/terms.txt"
    assert sorted(KNOWN - found) == [], "labels that are gone: take them out of tests/report/terms.txt"
    assert len(found) > 300


def test_evidence_names_no_two_places_for_one_code() -> None:
    assert all(len(entry.evidence) == len(set(entry.evidence)) for entry in CODES.values())


def test_the_table_of_codes_holds_those_that_findings_have_and_no_others() -> None:
    assert sorted(CODES) == sorted(set(of_findings()))
