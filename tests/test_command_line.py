"""Habits of a command line: what goes where, exit codes, colour, completion."""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from gearfit.commands.cli import main
from gearfit.wording.terminal import emphasised
from tests.faults.programs import REPOSITORY
from tests.faults.test_whole_files import ride_in


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture(autouse=True)
def no_wishes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")


def test_quiet_prints_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ride = ride_in(tmp_path)
    assert main(["report", str(ride), "--quiet"]) == 0
    assert capsys.readouterr() == ("", "")
    assert (ride / "report" / "report.html").is_file()
    assert main(["report", str(tmp_path / "nowhere"), "--quiet"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1


def test_json_prints_the_results_and_nothing_else(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ride = ride_in(tmp_path)
    assert main(["report", str(ride), "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert out == (ride / "report" / "results.json").read_text("utf-8")
    assert json.loads(out)["schema"] == "gearfit-results-1"


def test_quiet_and_json_together_are_wrong_usage(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["report", "x", "--quiet", "--json"])
    assert stopped.value.code == 2
    assert "argument --json: not allowed with argument --quiet" in capsys.readouterr().err


def test_colour_only_on_terminals_and_never_against_the_wish(monkeypatch: pytest.MonkeyPatch) -> None:
    assert emphasised("a", "bold", io.StringIO()) == "a"
    assert emphasised("a", "bold", Terminal()) == "\x1b[1ma\x1b[0m"
    monkeypatch.setenv("NO_COLOR", "")
    assert emphasised("a", "bold", Terminal()) != "a"
    monkeypatch.setenv("NO_COLOR", "0")
    assert emphasised("a", "bold", Terminal()) == "a"
    monkeypatch.delenv("NO_COLOR")
    monkeypatch.setenv("TERM", "dumb")
    assert emphasised("a", "bold", Terminal()) == "a"


def test_errors_are_coloured_on_a_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for wish, begins in ((None, "\x1b[1;31mgearfit:\x1b[0m "), ("1", "gearfit: ")):
        if wish:
            monkeypatch.setenv("NO_COLOR", wish)
        stream = Terminal()
        monkeypatch.setattr(sys, "stderr", stream)
        assert main(["check", str(tmp_path / "nothing")]) == 1
        assert stream.getvalue().startswith(begins)


def test_a_reader_who_stops_reading_is_no_error(tmp_path: Path) -> None:
    program = "import sys; sys.stdin.read(); from gearfit.commands.cli import main; sys.exit(main(sys.argv[1:]))"
    sheet = ride_in(tmp_path) / "before" / "holds.csv"
    command = [sys.executable, "-c", program, "check", str(sheet)]
    environment = os.environ | {"PYTHONPATH": str(REPOSITORY)}
    pipe = subprocess.PIPE
    with subprocess.Popen(command, env=environment, text=True, stdin=pipe, stdout=pipe, stderr=pipe) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        process.stdin.close()
        assert process.stderr.read() == ""
        assert process.wait(60) == 0


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_completion_script_knows_commands_and_options(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    for word in ("report", "predict", "speedometer", "units", "regulation"):
        assert word in script
    interpreter = shutil.which(shell)
    if interpreter is not None:
        checked = subprocess.run([interpreter, "-n"], input=script, capture_output=True, text=True)
        assert (checked.returncode, checked.stderr) == (0, "")


def test_bash_completes_a_command_and_a_value(capsys: pytest.CaptureFixture[str]) -> None:
    bash = shutil.which("bash")
    if bash is None:
        pytest.skip("no bash to try it in")
    main(["completion", "bash"])
    script = capsys.readouterr().out
    ask = (
        'COMP_WORDS=(gearfit "$@"); COMP_CWORD=$#; COMP_LINE="gearfit $*"; COMP_POINT=${#COMP_LINE}; '
        "$(complete -p gearfit | sed 's/.*-F \\([^ ]*\\).*/\\1/') gearfit \"${COMP_WORDS[COMP_CWORD]}\"; "
        'printf "%s\\n" "${COMPREPLY[@]}"'
    )
    for words, expected in ((["rep"], "report"), (["report", "--uni"], "--units"), (["report", "--units", "m"], "mph")):
        done = subprocess.run(
            [bash, "-c", f"{script}\n{ask}", "bash", *words], capture_output=True, text=True, env=os.environ
        )
        assert done.stdout.split() == [expected], done.stderr


def test_the_shells_are_documented() -> None:
    page = (REPOSITORY / "docs" / "command-line.md").read_text("utf-8")
    for shell in ("bash", "zsh", "fish"):
        assert f"gearfit completion {shell}" in page
