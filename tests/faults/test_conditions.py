"""The same report wherever and however it is made: many files, odd names, a locale with decimal comma."""

from __future__ import annotations

import csv
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from gearfit.commands.cli import main
from gearfit.importers import read_folder
from gearfit.whole_files import write_whole
from tests.benchmarks.rides import write_ride
from tests.faults.programs import content, run
from tests.faults.test_whole_files import ride_in

COMMAND = "import sys; from gearfit.commands.cli import main; sys.exit(main(sys.argv[1:]))"


def test_ten_thousand_files_in_a_folder(tmp_path: Path) -> None:
    """Most of them nobody's business, forty a sheet with one reading each; none is lost silently."""
    ride = ride_in(tmp_path / "ride")
    for number in range(40):
        rpm = 4000 + 25 * number
        row = f"2,{rpm},{2 * rpm / 250:.1f}"
        (ride / "before" / f"note {number:04d}.csv").write_text(f"gear,rpm,speed_kmh\n{row}\n")
    for number in range(9960):
        (ride / f"picture {number:04d}.jpg").touch()
    assert main(["report", str(ride)]) == 0
    results = json.loads((ride / "report" / "results.json").read_text("utf-8"))
    assert results["setups"]["before"]["samples"]["read"] == 49
    assert sum(finding["text"].startswith("Left aside: ") for finding in results["findings"]) == 9960
    page = (ride / "report" / "report.html").read_text("utf-8")
    assert "9959" in page or "9 959" in page.replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert len(page) < 3_000_000


ODD = ['-O\'Neil "quoted" `tick` emoji 🏍️', "ığüşöç ИЖ 山; semi & $HOME %PATH%"]


@pytest.mark.parametrize("name", ODD)
def test_names_with_spaces_quotes_and_emoji(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    ride = ride_in(tmp_path / name)
    odd = ride / "before" / f"{name}.csv"
    (ride / "before" / "holds.csv").rename(odd)
    monkeypatch.chdir(tmp_path)
    assert main(["report", "--", name]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert out.splitlines()[-1] == f"Report: {Path(name) / 'report' / 'report.html'}"
    with (ride / "report" / "samples_before.csv").open(encoding="utf-8", newline="") as file:
        assert {row["file"] for row in csv.DictReader(file)} == {f"before/{name}.csv"}


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux keeps names of any bytes")
def test_names_of_bytes_that_are_no_text(tmp_path: Path) -> None:
    ride = ride_in(tmp_path / "ride")
    os.rename(ride / "before" / "holds.csv", os.fsencode(ride / "before") + b"/caf\xe9.csv")
    (Path(os.fsdecode(os.fsencode(ride) + b"/m\xfcll"))).touch()
    assert main(["report", str(ride)]) == 0
    samples = (ride / "report" / "samples_before.csv").read_text("utf-8").splitlines()
    assert samples[1].split(",")[0] == "before/caf\\xe9.csv"
    assert read_folder(ride).notes == (
        "Left aside: m\\xfcll (its name begins with no setup; the setups are before, after).",
    )


IN_LOCALE = f"""
import locale, sys
name = locale.setlocale(locale.LC_ALL, sys.argv.pop(1))
assert locale.localeconv()["decimal_point"] == ",", name
{COMMAND}
"""


@pytest.fixture(scope="module")
def turkish(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Environment in which tr_TR.UTF-8 exists, built from the system's own description of it."""
    place = tmp_path_factory.mktemp("locales")
    tool = shutil.which("localedef")
    if tool is None:
        pytest.skip("no localedef to build a locale with")
    made = subprocess.run([tool, "-i", "tr_TR", "-f", "UTF-8", str(place / "tr_TR.UTF-8")], capture_output=True)
    if made.returncode:
        pytest.skip("the system has no description of the locale tr_TR")
    return {"LOCPATH": str(place), "LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8"}


def test_a_locale_with_decimal_comma_and_dotless_i_changes_nothing(tmp_path: Path, turkish: dict[str, str]) -> None:
    """Turkish lower case turns I into a dotless i in C libraries, and numbers have a comma."""
    plain, other = tmp_path / "plain", tmp_path / "other"
    arguments = ["report", str(write_ride(tmp_path / "ride", 1)), "--out"]
    assert main([*arguments, str(plain)]) == 0
    code, _, err = run(IN_LOCALE, "tr_TR.UTF-8", *arguments, str(other), **turkish)
    assert (code, err) == (0, "")
    assert content(other) == content(plain)


def test_sheets_as_a_spreadsheet_in_that_locale_writes_them(tmp_path: Path) -> None:
    plain, comma = ride_in(tmp_path / "plain"), tmp_path / "comma"
    for setup in ("before", "after"):
        text = (plain / setup / "holds.csv").read_text("utf-8")
        write_whole(comma / setup / "holds.csv", "\ufeff" + text.replace(",", ";").replace(".", ","))
    for ride in (plain, comma):
        assert main(["report", str(ride)]) == 0
    assert content(comma / "report") == content(plain / "report")


@pytest.fixture
def zones(monkeypatch: pytest.MonkeyPatch) -> Iterator[Iterator[str]]:
    """Zones of the clock, each in force until the next is asked for."""

    def each() -> Iterator[str]:
        for zone in ("Pacific/Kiritimati", "UTC"):
            monkeypatch.setenv("TZ", zone)
            time.tzset()
            yield zone

    yield each()
    monkeypatch.undo()
    time.tzset()


def test_clock_and_zone_of_the_machine_change_nothing(tmp_path: Path, zones: Iterator[str]) -> None:
    ride = write_ride(tmp_path / "ride", 1)
    reports = []
    for zone in zones:
        out = tmp_path / zone.replace("/", "-")
        assert main(["report", str(ride), "--out", str(out)]) == 0
        reports.append(content(out))
    assert reports[0] == reports[1]
    assert time.strftime("%Y-") not in reports[0]["results.json"].decode()
