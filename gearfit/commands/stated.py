"""The machine as options of the command line state it, without a file."""

from __future__ import annotations

import argparse
import re

from gearfit.errors import InputError
from gearfit.machine.bike import Bike, FinalDrive, Gearbox
from gearfit.machine.bike_rules import RULES
from gearfit.prediction.stated import meets, read_pair


def bike_as_stated(arguments: argparse.Namespace) -> Bike:
    """Return the machine that options alone state: `--from`, and `--primary` with `--gears` where they are given.

    Raises
    ------
    InputError
        There is no `--from`, or an option cannot be.
    """
    front, rear = read_pair("--from", arguments.from_pair)
    if front is None or rear is None:
        raise InputError(
            "the machine",
            "neither teeth nor a file are given; allowed are --from and --to, a bike.toml, or a ride folder",
            "Count the teeth and write --from 14/44 --to 13/45",
        )
    return Bike(gearbox=_gearbox(arguments), final_drive=FinalDrive(front=front, rear=rear))


def _gearbox(arguments: argparse.Namespace) -> Gearbox:
    if (arguments.gears is None) != (arguments.primary is None):
        alone = "--gears" if arguments.primary is None else "--primary"
        raise InputError(alone, "found alone; allowed are --primary and --gears together", "Give both, or neither")
    if arguments.gears is None:
        return Gearbox()
    primary = meets("--primary", RULES["gearbox"]["primary"], _ratio(arguments.primary))
    gears = meets("--gears", RULES["gearbox"]["gears"], [_ratio(text) for text in _listed(arguments.gears)])
    return Gearbox(primary, gears)  # type: ignore[arg-type]


def _listed(text: str) -> list[str]:
    return [part for part in re.split(r"[\s,;]+", text) if part]


def _ratio(text: str) -> str | float:
    try:
        return text if "/" in text else float(text)
    except ValueError:
        return text


def refuse_beside_a_file(arguments: argparse.Namespace, given: str) -> None:
    """Refuse options that state the machine where a file states it.

    Raises
    ------
    InputError
        `--from`, `--primary` or `--gears` is given.
    """
    for option, value in (
        ("--from", arguments.from_pair),
        ("--primary", arguments.primary),
        ("--gears", arguments.gears),
    ):
        if value is not None:
            raise InputError(
                option, f"found beside {given}, which states the machine", "State it there, or leave one of them out"
            )
