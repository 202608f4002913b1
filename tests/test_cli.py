"""The command line: what it prints, what it returns, and what it says to bad input."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from gearfit.commands.cli import main
from gearfit.version import __version__

SAMPLES = Path(__file__).parents[1] / "sample_logs"


def fails_with(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """Run a command that must fail with one line on stderr, nothing on stdout, and return code 1; return the line."""
    assert main(arguments) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("gearfit: ")
    assert err.count("\n") == 1
    return err.removeprefix("gearfit: ").rstrip("\n")


def sheet(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    return path


def test_report_prints_a_verdict_and_where_it_lies(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", str(SAMPLES / "motorway-commuter"), "--out", str(tmp_path / "r"), "--units", "mph"]) == 0
    out, err = capsys.readouterr()
    lines = out.splitlines()
    assert err == ""
    assert 5 <= len(lines) <= 9
    assert lines[0] == "Tidemill 500: from before (15/43) to after (16/43)"
    assert lines[1].startswith("Road speed at the same engine speed: +7")
    assert "0 to 60 mph: 6.49 s, then 6.74 s; too few runs to compare" in [
        line.replace("\N{NO-BREAK SPACE}", " ") for line in lines
    ]
    assert "Out of line with the other readings: after/holds.csv line 22" in lines
    assert lines[-1] == f"Report: {tmp_path / 'r' / 'report.html'}"
    assert (tmp_path / "r" / "report.html").is_file()


def test_report_goes_into_the_folder_by_default(tmp_path: Path) -> None:
    folder = tmp_path / "bike with spaces"
    shutil.copytree(SAMPLES / "motorway-commuter", folder, ignore=shutil.ignore_patterns("report"))
    assert main(["report", str(folder)]) == 0
    assert (folder / "report" / "summary.png").is_file()
    assert main(["report", str(folder)]) == 0


def test_one_setup_alone_is_reported_and_says_what_is_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "half"
    shutil.copytree(SAMPLES / "motorway-commuter", folder, ignore=shutil.ignore_patterns("report", "after"))
    assert main(["report", str(folder)]) == 0
    assert "Nothing to compare: only one setup has a ride" in capsys.readouterr().out
    results = (folder / "report" / "results.json").read_text("utf-8")
    assert '"comparison": null' in results
    assert '"code": "one-setup"' in results


def test_check_says_what_a_file_holds(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(SAMPLES / "no-papers" / "before" / "log.csv")]) == 0
    out = capsys.readouterr().out
    assert "log (values over time)" in out
    assert "[km/h]" in out


def test_check_goes_on_after_a_bad_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = sheet(tmp_path / "empty.csv", "")
    good = SAMPLES / "motorway-commuter" / "before" / "holds.csv"
    assert main(["check", str(bad), str(good)]) == 1
    out, err = capsys.readouterr()
    assert err.count("\n") == 1
    assert "empty.csv" in err
    assert "sheet of samples" in out


def test_new_makes_a_folder_that_is_ready(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "my-bike"
    assert main(["new", str(folder)]) == 0
    assert "closed road" in capsys.readouterr().out
    assert (folder / "bike.toml").is_file()
    for name in ("before", "after"):
        factor = 1.0 if name == "before" else 13 / 14
        rows = [f"{gear},5000,{round(factor * 20 * gear, 1)}" for gear in (1, 2, 3)]
        sheet(folder / name / "holds.csv", "gear,rpm,speed_kmh\n" + "\n".join(rows) + "\n")
    assert main(["report", str(folder)]) == 0
    assert "Road speed at the same engine speed: −7.2 %" in capsys.readouterr().out


def test_new_overwrites_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "my-bike"
    assert main(["new", str(folder)]) == 0
    capsys.readouterr()
    assert fails_with(["new", str(folder)], capsys) == (
        f"{folder}: found before/holds.csv there already; allowed is a folder without it. Nothing was written. "
        "Choose another name, or move the old files away."
    )


def test_version_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (["--version"], ["--help"], ["report", "--help"], ["check", "--help"], ["new", "--help"]):
        with pytest.raises(SystemExit) as stopped:
            main(arguments)
        assert stopped.value.code == 0
        out = capsys.readouterr().out
        assert f"gearfit {__version__}" in out if arguments == ["--version"] else "Example: " in out


@pytest.mark.parametrize("arguments", [[], ["report"], ["report", "x", "--units", "furlongs"], ["tune"]])
def test_wrong_usage_is_two(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    assert "usage: gearfit" in capsys.readouterr().err


def test_an_empty_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    message = fails_with(["report", str(tmp_path)], capsys)
    assert message.startswith(str(tmp_path))
    assert "gearfit new" in message


def test_logs_that_do_not_overlap_in_time(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = range(60)
    sheet(tmp_path / "before" / "speed.csv", "time_utc,speed_kmh\n" + "".join(f"{1778400000 + i},50\n" for i in rows))
    sheet(tmp_path / "before" / "rpm.csv", "time_utc,rpm\n" + "".join(f"{1778490000 + i},5000\n" for i in rows))
    assert fails_with(["report", str(tmp_path)], capsys) == (
        "setup before: before/speed.csv and before/rpm.csv do not overlap in time: check the clocks, and whether both "
        "belong to this setup. Then run the report again."
    )


def test_speeds_without_any_engine_speed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet(tmp_path / "before" / "speed.csv", "time_s,speed_kmh\n" + "".join(f"{i},{40 + i}\n" for i in range(60)))
    assert fails_with(["report", str(tmp_path)], capsys) == (
        "setup before: before/speed.csv has speeds but no engine speed, and no log of this setup has any: add an rpm "
        "log or a sheet of readings. Then run the report again."
    )


def test_speeds_alone_tell_whether_it_is_quicker(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three starts a setup, even at 3.0 and then at 3.6 m/s^2: 20 m/s after 6.67 and 5.56 s; no gear is claimed."""
    for name, pull in (("before", 3.0), ("after", 3.6)):
        speeds_mps = [min(max(pull * (k / 10 % 30 - 5), 0), 25) if k / 10 % 30 < 20 else 0.0 for k in range(900)]
        rows = "".join(f"{k / 10},{3.6 * speed:.2f}\n" for k, speed in enumerate(speeds_mps))
        sheet(tmp_path / name / "speed.csv", "time_s,speed_kmh\n" + rows)
    assert main(["report", str(tmp_path), "--span", "0-72kmh"]) == 0
    out = capsys.readouterr().out.replace("\N{NO-BREAK SPACE}", " ")
    (found,) = re.findall(r"^0 to 72 km/h: ([0-9.]+) s, then ([0-9.]+) s; (.*)$", out, re.MULTILINE)
    assert [float(time_s) for time_s in found[:2]] == pytest.approx([20 / 3.0, 20 / 3.6], abs=0.02)
    assert found[2].startswith("more than the scatter explains")
    assert "No gears found: before, after" in out
    page = (tmp_path / "report" / "report.html").read_text("utf-8")
    assert "speeds but no engine speed" in page
    assert "Nothing in before and after holds an engine speed" in page


def test_too_few_samples_claim_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = "time_s,speed_kmh,rpm\n" + "".join(f"{i},{40 + i},{3000 + 75 * i}\n" for i in range(5))
    sheet(tmp_path / "before" / "log.csv", text)
    assert main(["report", str(tmp_path)]) == 0
    assert "No gears found: before" in capsys.readouterr().out
    page = (tmp_path / "report" / "report.html").read_text("utf-8")
    assert "5 moving samples are too few to find gears in" in page


def test_a_misspelt_key_in_the_bike_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet(tmp_path / "before" / "holds.csv", "gear,rpm,speed_kmh\n1,5000,40\n")
    sheet(tmp_path / "bike.toml", "[final_drive]\nfrnt = 14\n")
    message = fails_with(["report", str(tmp_path)], capsys)
    assert "bike.toml" in message
    assert "final_drive.frnt" in message
    assert "did you mean 'front'?" in message


def test_scripts_in_names_show_as_text(tmp_path: Path) -> None:
    sheet(tmp_path / "before" / "<script>alert(1)<script>.csv", "gear,rpm,speed_kmh\n1,5000,40\n2,5000,60\n")
    sheet(tmp_path / "bike.toml", 'name = "<script>alert(2)</script>"\n')
    assert main(["report", str(tmp_path)]) == 0
    page = (tmp_path / "report" / "report.html").read_text("utf-8")
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(2)&lt;/script&gt;" in page


def test_miles_under_a_header_in_kilometres_are_not_called_a_change(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for setup, factor in (("before", 1.0), ("after", 13 / 14 / 1.609344)):
        held = [
            (gear, rpm, factor * kmh * rpm / 5000) for gear, kmh in ((2, 50), (3, 66)) for rpm in (4000, 5000, 6000)
        ]
        rows = [f"{gear},{rpm},{kmh:.0f}\n" for gear, rpm, kmh in held]
        sheet(tmp_path / setup / "holds.csv", "gear,rpm,speed_kmh\n" + "".join(rows))
    sheet(tmp_path / "bike.toml", "[final_drive]\nfront = 14\nrear = 43\n[setups.before]\n[setups.after]\nfront = 13\n")
    assert main(["report", str(tmp_path)]) == 0
    assert "unlikely: look at units, gears and files" in capsys.readouterr().out.splitlines()[1]
