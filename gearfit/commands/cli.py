"""The command line: thin, and quick to start (everything heavy is imported by the command that needs it)."""

from __future__ import annotations

import argparse
import difflib
import os
import re
import sys
import textwrap
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout, suppress
from pathlib import Path
from typing import Final, NoReturn

from gearfit.commands.common import ELSE_AS_SHEETS, add_no_positions, add_regulation, add_units
from gearfit.commands.completion import add_completion
from gearfit.commands.files import add_batch, add_export, add_watch
from gearfit.commands.options import add_open, add_plan, add_predict
from gearfit.commands.speedometer import add_speedometer
from gearfit.errors import GearfitError, InputError
from gearfit.version import __version__
from gearfit.wording.terminal import Plain, emphasised, one_line, print_json

#: Exit code by which shells tell that a program was stopped from the keyboard (128 + SIGINT).
_STOPPED: Final = 130
#: How many of the answer's lines, machine and change, stand out.
_BOLD_LINES: Final = 2
_EXAMPLE: Final = """\
Example: gearfit new my-bike
         (ride before and after the change, put the logs into my-bike)
         gearfit report my-bike
"""
_CAUTIONS: Final = (
    "Ride on a closed road or track, at legal speed, eyes on the road and not on the dash. Torque, chain slack and "
    "alignment: the machine's manual decides. Local law and licensed practice come first."
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns
    -------
    int
        0 done, 1 the data or the folder is at fault (one line on stderr), 2 wrong usage (by `SystemExit`), 130 stopped
        from the keyboard.
    """
    with redirect_stdout(Plain(sys.stdout)), redirect_stderr(Plain(sys.stderr)):
        return _run(argv)


def _run(argv: Sequence[str] | None) -> int:
    # The matrices are small: more threads of the linear algebra only wait for each other, and would round differently.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    arguments = _parser().parse_args(argv)
    try:
        code = int(arguments.run(arguments))
        sys.stdout.flush()
    except GearfitError as error:
        _complain(error)
        return 1
    except BrokenPipeError:  # whoever read what is printed has seen enough
        _discard_output()
        return 0
    except OSError as error:
        if error.filename is None:  # what is printed cannot be written; it would be tried again at the end
            _discard_output()
        place = "the output" if error.filename is None else os.fsdecode(error.filename)
        why = f"cannot be read or written ({error.strerror or error})"
        _complain(InputError(place, why, "Check the path, its permissions and the free space"))
        return 1
    except MemoryError:
        _complain(InputError("memory", "there is not enough of it for these files", "Split them, one ride a file"))
        return 1
    except KeyboardInterrupt:
        print("gearfit: stopped", file=sys.stderr)
        return _STOPPED
    return code


def _discard_output() -> None:
    with suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _complain(error: GearfitError) -> None:
    said = one_line(str(error))
    print(f"{emphasised('gearfit:', 'bad', sys.stderr)} {said}", file=sys.stderr)


class _Parser(argparse.ArgumentParser):
    """A parser that says which command or choice was probably meant."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong, with the likeliest choice, and end with code 2."""
        found = re.search(r"invalid choice: '([^']*)' \(choose from (.*)\)", message)
        near = difflib.get_close_matches(found[1], re.findall(r"[\w.-]+", found[2]), n=1) if found else []
        super().error(f"{message}; did you mean {near[0]}?" if near else message)


def _parser() -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = _Parser(
        prog="gearfit",
        description="Did the sprocket change make the difference that the tooth counts say?\n"
        "Two rides in a folder go in, a plotted report comes out.",
        epilog=f"{_EXAMPLE}\n{textwrap.fill(_CAUTIONS, 79)}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"gearfit {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    report = commands.add_parser(
        "report",
        help="analyse a ride folder and write the report",
        description="Read a ride folder (before/, after/, bike.toml) and write report.html, summary.png and .svg, "
        "results.json, gears.csv and samples_<setup>.csv. The answer in short is printed. Exit code 0: the report is "
        "written; 1: the data or the folder is at fault, one line says how; 2: wrong usage.",
        epilog="Example: gearfit report my-bike --units mph",
    )
    report.add_argument("folder", metavar="FOLDER", type=Path, help="the ride folder, see gearfit new")
    report.add_argument("--out", metavar="DIR", type=Path, help="where to write (default: FOLDER/report)")
    add_units(report, "of speed in the report", ELSE_AS_SHEETS)
    report.add_argument(
        "--span",
        metavar="FROM-TO",
        action="append",
        help="look for these runs in the rides, such as 0-80kmh or 30-60mph; may be given again "
        "(default: 0-60mph, 0-100kmh and 60-100kmh)",
    )
    report.add_argument(
        "--shape",
        choices=("wide", "square"),
        default="wide",
        help="summary picture of 1920 x 1080 or 1080 x 1080 pixels (default: wide)",
    )
    add_no_positions(report)
    add_regulation(report)
    printed = report.add_mutually_exclusive_group()
    printed.add_argument("--quiet", action="store_true", help="print nothing but errors")
    printed.add_argument("--json", action="store_true", help="print results.json, for programs, and no progress")
    _add_checksum_option(report)
    report.set_defaults(run=_report)

    check = commands.add_parser(
        "check",
        help="say what a file holds, as gearfit understands it",
        description="Say of each file what kind it is, which columns and units it has, how many rows, at what rate and "
        "with what pauses, and what is missing for a report.",
        epilog="Example: gearfit check my-bike/before/morning.gpx",
    )
    check.add_argument("files", metavar="FILE", type=Path, nargs="+", help="logs or sheets")
    _add_checksum_option(check)
    check.set_defaults(run=_check)

    new = commands.add_parser(
        "new",
        help="make a ride folder, ready to fill",
        description="Make a folder with a commented bike.toml, empty sheets in before/ and after/, and a page on how "
        "to ride (HOW-TO-RIDE.md). Nothing that exists is overwritten.",
        epilog="Example: gearfit new my-bike",
    )
    new.add_argument("folder", metavar="FOLDER", type=Path, help="the folder to make")
    new.set_defaults(run=_new)

    add_open(commands)
    add_speedometer(commands)
    add_predict(commands)
    add_plan(commands)
    add_export(commands)
    add_watch(commands)
    add_batch(commands)
    add_completion(commands, parser)
    return parser


def _add_checksum_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--accept-bad-checksums",
        action="store_true",
        help="use NMEA sentences whose checksum is wrong as well (they are counted either way)",
    )


def _report(arguments: argparse.Namespace) -> int:
    from tqdm import tqdm

    from gearfit.findings.analysis import analyse
    from gearfit.findings.verdict import verdict
    from gearfit.importers import read_folder, results_folder
    from gearfit.report import write_report
    from gearfit.timed.asked import USUAL_SPANS, read_span

    spans = tuple(map(read_span, arguments.span)) if arguments.span else USUAL_SPANS
    silent = arguments.quiet or arguments.json
    with tqdm(
        total=10, desc="reading", disable=silent or None, leave=False, bar_format="{desc:<24} {bar:30} {n}/{total}"
    ) as bar:

        def step(label: str) -> None:
            bar.update()
            bar.set_description(label)

        folder = read_folder(arguments.folder, accept_bad_checksums=arguments.accept_bad_checksums)
        out = results_folder(arguments.folder, arguments.out, (ride.setup.name for ride in folder.setups))
        step("fitting")
        analysis = analyse(folder, arguments.units, arguments.regulation, spans)
        written = write_report(analysis, out, progress=step, shape=arguments.shape, positions=arguments.positions)
    if arguments.json:
        print_json(written["results.json"].read_text("utf-8"))
    elif not arguments.quiet:
        for place, line in enumerate(verdict(analysis)):
            print(emphasised(line, "bold", sys.stdout) if place < _BOLD_LINES else line)
        print(one_line(f"Report: {written['report.html']}"))
    return 0


def _check(arguments: argparse.Namespace) -> int:
    from gearfit.importers import describe, options_near, read_log, sheets_of

    failed = 0
    for path in arguments.files:
        try:
            options = options_near(path, accept_bad_checksums=arguments.accept_bad_checksums)
            sheets = sheets_of(path)
            for sheet in sheets:
                name = f"{path.name}, {sheet}" if len(sheets) > 1 else path.name
                print("\n".join(map(one_line, describe(read_log(path, name, options, sheet)))))
        except GearfitError as error:
            _complain(error)
            failed = 1
    return failed


def _new(arguments: argparse.Namespace) -> int:
    from gearfit.commands.new import run

    return run(arguments, _CAUTIONS)
