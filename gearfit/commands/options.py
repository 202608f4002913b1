"""Options of `gearfit predict` and `gearfit plan`; what the commands do is loaded when they run."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TypeAlias

from gearfit.commands.common import add_units

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def add_predict(commands: Commands) -> None:
    """Add `gearfit predict`."""
    parser = commands.add_parser(
        "predict",
        help="say on paper what other sprockets or another tyre would do",
        description="Speeds and engine speeds now and after, thrust, speedometer, chain and axle, tooth pairs by wish. "
        "With a ride folder the fitted ratios and circumference count.",
        epilog="Example: gearfit predict my-bike/bike.toml --front 13 --change -5",
    )
    parser.add_argument("bike", metavar="BIKE.toml|FOLDER", type=Path, help="the machine, or a ride folder")
    parser.add_argument("--setup", metavar="NAME", help="the setup that is on now (default: the first)")
    _add_swap(parser)
    parser.add_argument("--rpm", metavar="N", type=float, help="engine speed of the table (default: 5000)")
    parser.add_argument("--change", metavar="PCT", type=float, help="wanted change of road speed at the same rpm")
    parser.add_argument("--cruise-kmh", metavar="V", type=float, help="wanted road speed in top gear, with --at-rpm")
    parser.add_argument("--at-rpm", metavar="N", type=float, help="engine speed at that road speed")
    parser.add_argument(
        "--span",
        metavar="FROM-TO",
        action="append",
        help="predict the time of this run from the ride, such as 0-80kmh or 30-60mph; may be given again "
        "(default: 0-60mph, 0-100kmh and 60-100kmh)",
    )
    add_units(parser, "that comes first")
    parser.add_argument("--json", action="store_true", help="for programs")
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
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the ride folder, with bike.toml")
    _add_swap(parser)
    parser.add_argument("--change", metavar="PCT", type=float, help="expected change of road speed at the same rpm")
    parser.add_argument("--by", choices=("display", "log"), help="how speeds are taken (default: as in the first ride)")
    parser.add_argument("--fastest", metavar="V", type=float, help="highest speed of a pass, in the unit of --units")
    parser.add_argument("--rpm", metavar="N", type=float, help="highest engine speed to hold (default: chosen)")
    parser.add_argument("--passes", metavar="N", type=int, help="passes in each gear (default: chosen)")
    add_units(parser, "of the display")
    parser.set_defaults(run=_plan)


def _add_swap(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--front", metavar="N", type=int, help="teeth at the gearbox after the swap")
    parser.add_argument("--rear", metavar="N", type=int, help="teeth at the wheel after the swap")
    parser.add_argument("--tyre", metavar="SIZE", help="size of the tyre after the swap")
    parser.add_argument("--circumference", metavar="MM", type=float, help="rolling circumference after the swap")


def _predict(arguments: argparse.Namespace) -> int:
    from gearfit.commands.predict import run

    return run(arguments)


def _plan(arguments: argparse.Namespace) -> int:
    from gearfit.commands.plan import run

    return run(arguments)
