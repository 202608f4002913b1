"""`gearfit plan`: which runs answer the question, what they will show, and what is still missing."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from gearfit.commands.predict import after_swap, tyre_asked
from gearfit.commands.stated import bike_as_stated, refuse_beside_a_file
from gearfit.errors import FolderError, InputError
from gearfit.machine.bike import Bike
from gearfit.machine.bike_file import read_bike
from gearfit.machine.bike_rules import RULES
from gearfit.prediction.basis import Gearing, on_paper, ridden, speeds_unknown
from gearfit.prediction.planning.noise import Noise, assumed_display, assumed_log, of_ride
from gearfit.prediction.planning.plan import HOLD_S, PASSES, Plan, Wanted, half_width_percent, plan_gears
from gearfit.prediction.planning.starts import plan_starts
from gearfit.prediction.stated import checked, read_speed
from gearfit.units import to_mps
from gearfit.wording.missing_for_plan import still_missing
from gearfit.wording.plan_text import plan_lines

if TYPE_CHECKING:
    from gearfit.records.results import SetupResult

_BIKE_FILE = "bike.toml"
_DEFAULT_SETUPS = ("before", "after")
#: How the sheets begin that are there to be filled in.
_HEADS = ("gear,rpm,", "from_")
#: Highest speed of a pass where the rider lays down none.
_FASTEST = {"kmh": "100 km/h", "mph": "60 mph"}


def run(arguments: argparse.Namespace) -> int:
    """Write test cards and sheets, and print the plan."""
    plan = plan_for(arguments)
    print("\n".join(plan_lines(plan, arguments.units)))
    print()
    if arguments.folder is None:
        print("For cards and sheets: gearfit new FOLDER, state this in its bike.toml, then gearfit plan FOLDER.")
        return 0
    from gearfit.report.card import write_card

    written, kept = write_card(plan, arguments.folder, arguments.units)
    for path in written:
        print(f"wrote {path}")
    for path in kept:
        print(f"kept {path} as it is")
    return 0


def plan_for(arguments: argparse.Namespace) -> Plan:
    """Read the folder, check what is asked, and plan."""
    folder: Path | None = arguments.folder
    where = "the options" if folder is None else f"{folder}, {_BIKE_FILE}"
    bike, results = _stated(arguments) if folder is None else _read(arguments, folder)
    names = _setups(bike)
    first = results.get(names[0])
    now = ridden(bike, first) if first is not None else None
    now = now or on_paper(bike, bike.setup(names[0]), where)
    if not now.gears:
        raise speeds_unknown(bike, bike.setup(names[0]), where)
    change = _change(arguments, bike, names, now, where)
    noise = _noise(arguments, first)
    wanted = _wanted(arguments)
    gears = plan_gears(now, change, noise, bike.engine.limit_rpm, wanted)
    starts = plan_starts(() if first is None else first.timed_spans, names[0], arguments.units, change)
    return Plan(
        name=bike.name,
        setups=names,
        change_percent=change,
        noise=noise,
        fastest_mps=wanted.fastest_mps,
        passes=len(gears[0].hold_rpm),
        hold_s=HOLD_S[noise.kind],
        gears=gears,
        all_gears_half_width_percent=half_width_percent(gears, noise),
        starts=starts,
        ridden=bool(results),
        missing=still_missing(names, results, gears, starts),
    )


def _stated(arguments: argparse.Namespace) -> tuple[Bike, Mapping[str, SetupResult]]:
    """Return the machine that options alone state; the tyre stated is on in both setups."""
    return replace(bike_as_stated(arguments), tyre=tyre_asked(arguments)), {}


def _read(arguments: argparse.Namespace, folder: Path) -> tuple[Bike, Mapping[str, SetupResult]]:
    """Read the machine and whatever was ridden; before any ride the bike file alone."""
    refuse_beside_a_file(arguments, str(folder))
    if not folder.is_dir():
        raise FolderError(str(folder), "there is no such folder", "Make one with `gearfit new FOLDER`")
    if _unridden(folder):
        return read_bike(folder / _BIKE_FILE), {}
    from gearfit.importers import read_folder

    try:
        rides = read_folder(folder)
    except FolderError:
        if not (folder / _BIKE_FILE).is_file():
            raise
        return read_bike(folder / _BIKE_FILE), {}
    from gearfit.findings.analysis import analyse

    analysis = analyse(rides)
    return analysis.bike, {result.setup.name: result for result in analysis.setups}


def _unridden(folder: Path) -> bool:
    """Tell a folder that holds nothing but a bike file and sheets to fill in, without loading the readers."""
    from gearfit.report.card.write import CARDS

    if not (folder / _BIKE_FILE).is_file():
        return False
    inside = [entry for entry in folder.iterdir() if entry.name not in (_BIKE_FILE, CARDS)]
    within = [file for entry in inside if entry.is_dir() for file in entry.iterdir()]
    files = [file for file in (*inside, *within) if not (file.is_dir() and file in inside)]
    return all(file.name.startswith(".") or file.suffix == ".md" or _unfilled(file) for file in files)


def _unfilled(file: Path) -> bool:
    """Tell a sheet with nothing but its head, or one that `gearfit plan` wrote and nobody filled in."""
    from gearfit.report.card.write import HOLDS, RUNS

    if file.suffix != ".csv" or not file.is_file():
        return False
    head, *rows = file.read_text("utf-8", errors="replace").splitlines() or [""]
    if not head.startswith(_HEADS):
        return False
    return not rows or (file.name in (HOLDS, RUNS) and all(row.endswith(",") for row in rows))


def _setups(bike: Bike) -> tuple[str, str]:
    names = [setup.name for setup in bike.setups]
    return (names[0], names[1]) if len(names) > 1 else _DEFAULT_SETUPS


def _change(arguments: argparse.Namespace, bike: Bike, names: tuple[str, str], now: Gearing, where: str) -> float:
    """Return the expected change [%]: as asked, else of the sprockets and tyre asked for or stated."""
    asked = checked("--change", RULES["wish"]["change_percent"], arguments.change)
    if asked is not None:
        return _no_zero(asked)
    after = after_swap(arguments, now, tyre_asked(arguments), bike.setup(names[1]))
    if after is None:
        raise InputError(
            where,
            f"found no difference between {names[0]} and {names[1]}; a plan needs the change that is to be shown",
            f"State it under [setups.{names[1]}], or give --to, --front, --rear, --tyre or --change",
        )
    return _no_zero(100 * (after.speed_per_1000rpm_mps[-1] / now.speed_per_1000rpm_mps[-1] - 1))


def _no_zero(change_percent: float) -> float:
    if abs(change_percent) < 0.01:
        raise InputError(
            "the change", f"found {change_percent:.2f} %; allowed is a change that can be shown", "Choose another pair"
        )
    return change_percent


def _noise(arguments: argparse.Namespace, first: SetupResult | None) -> Noise:
    step_mps = to_mps(1.0, arguments.units)
    found = None if first is None else of_ride(first, step_mps)
    if found is not None and arguments.by in (None, found.kind):
        return found
    return assumed_log() if arguments.by == "log" else assumed_display(step_mps)


def _wanted(arguments: argparse.Namespace) -> Wanted:
    fastest_mps = read_speed("--fastest", arguments.fastest or _FASTEST[arguments.units], arguments.units)
    if arguments.passes is not None and arguments.passes not in range(1, 21):
        raise InputError(
            "--passes",
            f"found {arguments.passes}; allowed are 1 to 20",
            f"Correct the value, or leave it out: then {PASSES[0]} to {PASSES[-1]} are chosen",
        )
    rpm = checked("--rpm", RULES["wish"]["at_rpm"], arguments.rpm)
    return Wanted(fastest_mps, rpm, arguments.passes)
