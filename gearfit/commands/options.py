"""Options of `gearfit predict` and `gearfit plan`; what the commands do is loaded when they run."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TypeAlias

from gearfit.commands.common import ELSE_AS_ASKED, add_units

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def add_predict(commands: Commands) -> None:
    """Add `gearfit predict`."""
    parser = commands.add_parser(
        "predict",
        help="say on paper what other sprockets or another tyre would do",
        description="What a change of sprockets or tyre does to speed, engine speed, thrust, chain and dash. Two "
        "tooth pairs are enough; a bike.toml tells more, and with a ride folder the fitted ratios and circumference "
        "count.",
        epilog='Example: gearfit predict --from 14/44 --to 13/45 --known "5300 rpm at 70 mph"',
    )
    parser.add_argument("bike", metavar="BIKE.toml|FOLDER", type=Path, nargs="?", help="the machine, or a ride folder")
    parser.add_argument("--setup", metavar="NAME", help="the setup that is on now (default: the first)")
    _add_teeth(parser)
    _add_swap(parser)
    parser.add_argument(
        "--known", metavar="HOLD", help='one engine speed and road speed now, in one gear, as "5300 rpm at 70 mph"'
    )
    parser.add_argument(
        "--cruise", metavar="SPEED", action="append", help="engine speed at this road speed, as 70mph; may be repeated"
    )
    parser.add_argument("--rpm", metavar="N", type=float, help="engine speed of the table of gears (default: 5000)")
    parser.add_argument("--change", metavar="PCT", type=float, help="wish: change of road speed at the same rpm")
    parser.add_argument("--wish", metavar="HOLD", help='wish: a cruise in the highest gear, as "70 mph at 4800 rpm"')
    parser.add_argument(
        "--span",
        metavar="FROM-TO",
        action="append",
        help="predict the time of this run from the ride, such as 0-80kmh or 30-60mph; may be given again "
        "(default: 0-60mph, 0-100kmh and 60-100kmh)",
    )
    add_units(parser, "that comes first, and of speeds without one", ELSE_AS_ASKED)
    shown = parser.add_mutually_exclusive_group()
    shown.add_argument("--all", dest="everything", action="store_true", help="print everything, not ten lines")
    shown.add_argument("--json", action="store_true", help="everything, for programs")
    parser.set_defaults(run=_predict)


def add_plan(commands: Commands) -> None:
    """Add `gearfit plan`."""
    parser = commands.add_parser(
        "plan",
        help="say which runs will show the change, and print a test card",
        description="Gears, engine speeds, passes and timed runs that can show the change, and what they will show; "
        "test cards (HTML) go into FOLDER/report, sheets to fill in (CSV) beside the rides. After a ride: what is "
        "missing.",
        epilog="Example: gearfit plan my-bike --units mph",
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, nargs="?", help="the ride folder, with bike.toml")
    _add_teeth(parser)
    _add_swap(parser)
    parser.add_argument("--change", metavar="PCT", type=float, help="expected change of road speed at the same rpm")
    parser.add_argument("--by", choices=("display", "log"), help="how speeds are taken (default: as in the first ride)")
    parser.add_argument(
        "--fastest", metavar="SPEED", help="highest speed of a pass, as 60mph (default: 100 km/h or 60 mph)"
    )
    parser.add_argument("--rpm", metavar="N", type=float, help="highest engine speed to hold (default: chosen)")
    parser.add_argument("--passes", metavar="N", type=int, help="passes in each gear (default: chosen)")
    add_units(parser, "of the display, and of speeds without one")
    parser.set_defaults(run=_plan)


def add_open(commands: Commands) -> None:
    """Add `gearfit open`."""
    parser = commands.add_parser(
        "open",
        help="do the whole job in the browser",
        description="Opens pages in the browser, from this machine and for it alone: the machine, readings, logs, the "
        "report and the plan. They work on the same folders as the other commands. Ends when the last page is closed.",
        epilog="Example: gearfit open my-bikes",
    )
    parser.add_argument(
        "folder",
        metavar="FOLDER",
        type=Path,
        nargs="?",
        help="a ride folder, or a folder of them (default: asked for once and remembered)",
    )
    parser.add_argument(
        "--no-window",
        dest="window",
        action="store_false",
        help="print the address instead of opening a browser; end with Ctrl-C",
    )
    parser.set_defaults(run=_open)


def _add_teeth(parser: argparse.ArgumentParser) -> None:
    """Add what states a machine without a file."""
    parser.add_argument("--from", dest="from_pair", metavar="F/R", help="without a file: teeth now, gearbox/wheel")
    parser.add_argument("--to", dest="to_pair", metavar="F/R", help="teeth after the swap, gearbox/wheel")
    parser.add_argument("--primary", metavar="RATIO", help="without a file: primary drive, as 74/25 or 2.96")
    parser.add_argument("--gears", metavar="RATIOS", help='without a file: gears from first, as "35/13 31/17 28/20"')


def _add_swap(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--front", metavar="N", type=int, help="teeth at the gearbox after the swap")
    parser.add_argument("--rear", metavar="N", type=int, help="teeth at the wheel after the swap")
    parser.add_argument("--tyre", metavar="SIZE", help="size of the tyre after the swap")
    parser.add_argument("--circumference", metavar="MM", type=float, help="rolling circumference after the swap")


def _open(arguments: argparse.Namespace) -> int:
    from gearfit.commands.open import run

    return run(arguments)


def _predict(arguments: argparse.Namespace) -> int:
    from gearfit.commands.predict import run

    return run(arguments)


def _plan(arguments: argparse.Namespace) -> int:
    from gearfit.commands.plan import run

    return run(arguments)
