"""What README and docs show is true: commands, links, examples, messages, keys and columns."""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from contextlib import chdir
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

import gearfit
from gearfit.findings.verdict import verdict
from gearfit.machine.bike_rules import RULES

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = Path(gearfit.__file__).parent
README = (ROOT / "README.md").read_text("utf-8")
READING = (ROOT / "docs" / "reading.md").read_text("utf-8")
FORMATS = (ROOT / "docs" / "formats.md").read_text("utf-8")
PAGES = [*sorted(ROOT.glob("*.md")), *sorted((ROOT / "docs").glob("*.md")), ROOT / "sample_logs" / "README.md"]

FENCE = re.compile(r"^```(?P<language>\w*)[ ]?(?P<kind>[^\n]*)\n(?P<text>.*?)^```$", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\]\((?P<target>[^)\s]+)\)")


def blocks(page: str, language: str) -> list[tuple[str, str]]:
    """Return the fenced blocks of a language: what stands behind it, and the text."""
    return [(match["kind"], match["text"]) for match in FENCE.finditer(page) if match["language"] == language]


def anchors(page: str) -> set[str]:
    """Return the anchors that the headings of a page make."""
    headings = re.findall(r"^#+ (.*)$", FENCE.sub("", page), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


@dataclass(frozen=True)
class Example:
    """What README's Python example made: its variables, and the folder with the report."""

    made: dict[str, Any]
    report: Path


@pytest.fixture(scope="module")
def python_example(tmp_path_factory: pytest.TempPathFactory) -> Example:
    place = tmp_path_factory.mktemp("checkout")
    shutil.copytree(ROOT / "sample_logs", place / "sample_logs", ignore=shutil.ignore_patterns("report"))
    ((_, code),) = blocks(README, "python")
    made: dict[str, Any] = {}
    with chdir(place):
        exec(compile(code, "README.md", "exec"), made)
    return Example(made, place / "report")


def test_the_two_commands() -> None:
    commands = [text.strip() for _, text in blocks(README, "")]
    assert commands[0] == "python3 -m venv .venv && . .venv/bin/activate"
    assert commands[1] == "pip install . && gearfit report sample_logs/trail-bike"
    assert commands[2] == "pip install '.[test]' && pytest"
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert project["scripts"] == {"gearfit": "gearfit.commands.cli:main"}
    assert "test" in project["optional-dependencies"]
    ci = (ROOT / ".ci" / "run").read_text("utf-8").splitlines()
    assert any(re.fullmatch(r"pip install .*'\.\[test\]'", line) for line in ci)
    assert "pytest" in ci


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    text = page.read_text("utf-8")
    for match in LINK.finditer(FENCE.sub("", text)):
        path, _, anchor = match["target"].partition("#")
        target = (page.parent / path).resolve() if path else page
        assert target.is_relative_to(ROOT), match["target"]
        assert target.exists(), match["target"]
        assert not anchor or anchor in anchors(target.read_text("utf-8")), match["target"]


def test_every_room_is_in_the_table_of_the_developers() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8").split("Where do I put")[0]
    rows = re.findall(r"^\| ((?:top: )?`[^|]*) \|", text.split("## The house")[1], re.MULTILINE)
    named = {name for row in rows for name in re.findall(r"`([\w./]+)`", row)}
    files = {path.name for path in PACKAGE.glob("*.py")}
    rooms = {f"{path.parent.relative_to(PACKAGE).as_posix()}/" for path in PACKAGE.rglob("*/__init__.py")}
    assert sorted(files | rooms) == sorted(named)


def test_the_picture_is_small() -> None:
    data = (ROOT / "docs" / "images" / "summary-trail-bike.png").read_bytes()
    width, height = (int.from_bytes(data[at : at + 4]) for at in (16, 20))
    assert (width, height) == (1920, 1080)
    assert len(data) < 300_000


def test_the_bike_file_of_the_readme_is_read(tmp_path: Path) -> None:
    ((_, text),) = blocks(README, "toml")
    (tmp_path / "bike.toml").write_text(text, "utf-8")
    bike = gearfit.read_bike(tmp_path / "bike.toml")
    assert [(setup.name, setup.final_drive.front, setup.final_drive.rear) for setup in bike.setups] == [
        ("before", 15, 44),
        ("after", 14, 44),
    ]
    assert all(bike.overall_ratios(setup) for setup in bike.setups)


def test_the_terminal_shows_what_the_readme_says(python_example: Example) -> None:
    ((_, text),) = blocks(README, "text")
    *lines, last = text.replace("\N{NO-BREAK SPACE}", " ").splitlines()
    printed = [line.replace("\N{NO-BREAK SPACE}", " ") for line in verdict(python_example.made["analysis"])]
    assert lines == printed
    assert last == f"Report: {Path('sample_logs/trail-bike') / 'report' / 'report.html'}"


def test_the_python_example_writes_the_report_that_is_listed(python_example: Example) -> None:
    for path in python_example.report.iterdir():
        assert f"`{path.name}`" in READING
    for key in json.loads((python_example.report / "results.json").read_text("utf-8")):
        assert f"`{key}`" in READING


def test_the_readme_is_read_in_five_minutes() -> None:
    assert len(README.split()) <= 1000


def test_every_key_of_the_bike_file_is_listed() -> None:
    section = FORMATS[FORMATS.index("\n## bike.toml") : FORMATS.index("\n## What is refused")]
    table, listed = "", set()
    for row in (line.split("|") for line in section.splitlines() if line.startswith("| ")):
        table = row[1].strip().strip("`[]") or table
        listed |= {("" if key in RULES[""] else table, key) for key in re.findall(r"`(\w+)`", row[2])}
    assert listed == {(table, key) for table, rules in RULES.items() for key in rules}


FILES = [*blocks(FORMATS, "xml"), *blocks(FORMATS, "csv"), *(("", text) for _, text in blocks(README, "csv"))]


@pytest.mark.parametrize(("kind", "text"), FILES)
def test_every_example_of_a_file_is_read(kind: str, text: str, tmp_path: Path) -> None:
    (tmp_path / "ride").write_text(text, "utf-8")
    recording = gearfit.read_log(tmp_path / "ride")
    assert kind in ("", recording.kind)
    expected = ("only speeds", "times of their own", "marked as doubtful", "behind a number passed over")
    assert not [note for note in recording.notes if not any(words in note for words in expected)]


#: A file that is refused, one for each row of the table in docs/formats.md.
REFUSED = [
    "time_s,speed\n0,1\n",
    "time,rpm\n0,1000\n10,1100\n20,1200\n",
    "Time (fortnights),rpm\n0,4000\n1,4100\n",
    "time_s,rpm,speed_kmh (mph)\n0,4000,50\n1,4100,51\n",
    "gear,rpm,speed_kmh\n1,5,30\n2,5,40\n",
    "rpm,speed_mph\n4000,25\n5000,53 km/h\n",
    "gear,rpm,speed_mph\nlow,4000,25\ntop,4000,55\n",
    "time_s,rpm,speed_kmh\n0,0,1000,10,5\n0,1,1010,10,7\n",
    "time_s,rpm\n0,1000\n1,1100\n2,1200\n0,1000\n1,1100\n",
    "time_speed_s,speed_kmh,time_rpm_ms,rpm\n0,50,30,4000\n1,51,530,4010\n",
    "gear,speed_kmh\n1,30\n",
    "\n",
    '{"speed": 1}',
    "<kml/>",
    '<!DOCTYPE gpx [<!ENTITY a "b">]><gpx/>',
    '<gpx><trk><trkseg><trkpt lat="1" lon="2"><time>2026',
    '<gpx><trk><trkseg><trkpt lat="1" lon="2"><time>2026-05-10T08:30:00</time></trkpt></trkseg></trk></gpx>',
    '<gpx><trk><trkseg><trkpt lat="1" lon="2"><time>2026-05-10T08:30:00Z</time></trkpt>'
    '<trkpt lat="1" lon="2"/></trkseg></trk></gpx>',
    '<gpx><rte><rtept lat="1" lon="2"/></rte></gpx>',
    "[final_drive]\nfrnt = 14\n",
]
MESSAGES = re.findall(
    r"^\| [^|`]*(?:`bike\.toml`)? ?\| `(.*)` \|$", FORMATS[FORMATS.index("# What is refused") :], re.M
)


def test_no_message_is_left_untried() -> None:
    assert len(MESSAGES) == len(REFUSED)


@pytest.mark.parametrize(("message", "text"), [*zip(MESSAGES, REFUSED, strict=False)])
def test_every_message_is_the_one_that_is_shown(message: str, text: str, tmp_path: Path) -> None:
    path = tmp_path / message.split(":")[0].split(",")[0]
    path.write_text(text, "utf-8")
    with pytest.raises(gearfit.GearfitError) as caught:
        _ = gearfit.read_bike(path) if path.suffix == ".toml" else gearfit.read_log(path)
    assert str(caught.value) == message
