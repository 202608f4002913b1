"""What docs/planning.md shows is true: commands, options, keys, tyre sizes, assumptions."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

import gearfit
from gearfit.commands.cli import main
from gearfit.machine.tyre import tyre_size
from gearfit.prediction.planning.noise import COARSEST_RPM, HELD_SHARE, LOG_PASSAGE_SD, RECEIVER_SD_MPS
from gearfit.prediction.planning.plan import PASSES
from gearfit.prediction.planning.starts import ASSUMED_RUN_RELATIVE_SD, ASSUMED_TIME_S, TRIED
from tests.test_command_predict import BIKE

DOC = (Path(__file__).resolve().parents[1] / "docs" / "planning.md").read_text("utf-8")
PREDICT, PLAN = DOC.split("\n## gearfit plan\n")[0], DOC.split("\n## gearfit plan\n")[1]


def options_of(command: str, capsys: pytest.CaptureFixture[str]) -> set[str]:
    with pytest.raises(SystemExit):
        main([command, "--help"])
    return set(re.findall(r"--[a-z]+(?:-[a-z]+)*", capsys.readouterr().out.split("Example:")[0])) - {"--help"}


@pytest.mark.parametrize(("command", "section"), [("predict", PREDICT), ("plan", PLAN)])
def test_every_option_is_listed_and_none_that_does_not_exist(
    command: str, section: str, capsys: pytest.CaptureFixture[str]
) -> None:
    table = "\n".join(line.split("|")[1] for line in section.splitlines() if line.startswith("| `"))
    listed = set(re.findall(r"--[a-z]+(?:-[a-z]+)*", table))
    if command == "plan":
        listed |= {"--units"}
    assert listed == options_of(command, capsys)


def test_the_commands_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "my-bike").mkdir()
    (tmp_path / "my-bike" / "bike.toml").write_text(BIKE + "[setups.before]\n[setups.after]\nfront = 13\n", "utf-8")
    monkeypatch.chdir(tmp_path)
    commands = re.findall(r"^```\n(gearfit .*)\n```$", DOC, re.MULTILINE)
    assert [command.split()[1] for command in commands] == ["predict", "predict", "plan"]
    for command in commands:
        assert main(shlex.split(command)[1:]) == 0
    for path in re.findall(r"`((?:report|before)/[\w.]+)`", DOC):
        assert (tmp_path / "my-bike" / path).is_file(), path
    assert capsys.readouterr().err == ""


def test_the_wish_is_read(tmp_path: Path) -> None:
    (text,) = re.findall(r"```toml\n(.*?)```", DOC, re.DOTALL)
    (tmp_path / "bike.toml").write_text(text, "utf-8")
    assert gearfit.read_bike(tmp_path / "bike.toml").wish.change_percent == -5


def test_the_sizes_of_the_table_are_of_the_form_that_it_says() -> None:
    rows = re.findall(r"^\| (metric|inch|low-section inch|letters) \| (.*?) \|", DOC, re.MULTILINE)
    assert len(rows) == 4
    for form, examples in rows:
        for size in re.findall(r"`([^`]+)`", examples):
            assert tyre_size(size).series == form


def test_the_assumptions_are_those_of_the_plan() -> None:
    assert f"| {100 * HELD_SHARE:.0f} %, read to {COARSEST_RPM:.0f} rev/min |" in DOC
    assert f"| {RECEIVER_SD_MPS} m/s |" in DOC
    assert f"| {100 * LOG_PASSAGE_SD:.1f} % |" in DOC
    assert f"| {100 * ASSUMED_RUN_RELATIVE_SD:.0f} % of {ASSUMED_TIME_S:.0f} s |" in DOC
    assert "({}, {}, {} or {})".format(*PASSES) in DOC
    assert "({}, {}, {} or {} in each setup)".format(*TRIED) in DOC
