"""`gearfit speedometer`: the instrument alone, from a ride folder or from one log or sheet."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from gearfit.commands.common import add_regulation, add_units
from gearfit.errors import InputError
from gearfit.units import SPEED_UNIT_LABELS, SPEED_UNITS_MPS, from_mps

if TYPE_CHECKING:
    from gearfit.machine.bike import Bike
    from gearfit.records.recording import RideSetup
    from gearfit.records.results import Speedometer, SpeedometerPoint

_BIKE_FILE: Final = "bike.toml"
#: Vehicle categories as `gearfit.speedometer.rules` knows them (whose package loads numpy).
_CATEGORIES: Final = ("L1", "L2", "L3", "L4", "L5", "M", "N")
_LAW: Final = (
    "Law differs from place to place: ask which rule counts where the machine is ridden. Read the dash only on a "
    "closed road, or let a passenger or a camera do it."
)


def add_speedometer(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command and its options."""
    parser = commands.add_parser(
        "speedometer",
        help="check the speedometer alone",
        description="Say how far off the speedometer is at every speed, whether a rule allows it, what to set on a "
        "pulse corrector, and print a card for the dash. Wanted are shown and true speeds: a log with indicated_kmh "
        "and the receiver's speed, or a sheet with the columns indicated_kmh and gps_kmh, ten steady readings or more.",
        epilog="Example: gearfit speedometer dash.csv --regulation 'UNECE R39'",
    )
    parser.add_argument("path", metavar="FOLDER_OR_FILE", type=Path, help="a ride folder, or one log or sheet")
    add_regulation(parser)
    add_units(parser, "of speed")
    parser.add_argument(
        "--max-speed",
        metavar="SPEED",
        type=float,
        help="highest speed of this type of machine, in the unit chosen: it sets the test speeds of UNECE R39 "
        "(default: above 150 km/h)",
    )
    parser.add_argument(
        "--production",
        metavar="CATEGORY",
        choices=_CATEGORIES,
        help="judge by the wider tolerance of UNECE R39 for machines from series production of this category (L1 to "
        "L5, M, N); those tolerances are from memory",
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Check each setup's instrument and print it."""
    from gearfit.findings.speedometer import odometer_findings
    from gearfit.records.results import Speedometer
    from gearfit.speedometer.check import check_setup, fit_where_possible
    from gearfit.speedometer.rules import rule
    from gearfit.wording.columns import paragraph

    bike, rides = _read(arguments.path)
    unit = arguments.units
    maximum = arguments.max_speed
    if maximum is not None and not 10 <= maximum <= 500:
        raise InputError("--max-speed", f"found {maximum:g}; allowed is 10 to 500", "Give the speed in the unit chosen")
    against = rule(
        arguments.regulation or bike.speedometer.regulation,
        maximum_speed_mps=None if maximum is None else maximum * SPEED_UNITS_MPS[unit],
        production=arguments.production is not None,
        category=arguments.production or "L3",
        unit=unit,
    )
    judged: list[tuple[RideSetup, Speedometer]] = []
    odometers = []
    for ride in rides:
        found = check_setup(bike, ride, fit_where_possible(bike, ride), against, unit)
        if found is None:
            found = "it holds no shown speeds (a column indicated_kmh or indicated_mph)"
        if isinstance(found, Speedometer):
            judged.append((ride, found))
            print("\n".join([*_lines(ride.setup.name, found, unit), ""]))
        else:
            print(f"{ride.setup.name}: nothing can be said of the speedometer: {found}\n")
        odometers += [finding.text for finding in odometer_findings(ride)]
    for text in (*_pick_ups(judged, bike.speedometer.driven_from), *odometers):
        print("\n".join([*paragraph(text), ""]))
    if not judged and not odometers:
        raise InputError(
            str(arguments.path),
            "no speedometer can be judged",
            "Add a sheet with the columns indicated_kmh and gps_kmh, ten steady readings spread over the speeds",
        )
    print(_LAW)
    return 0


def _read(path: Path) -> tuple[Bike, tuple[RideSetup, ...]]:
    from gearfit.importers import options_near, read_folder, read_log
    from gearfit.machine.bike import Bike
    from gearfit.machine.bike_file import read_bike
    from gearfit.records.recording import RideSetup

    if path.is_dir():
        folder = read_folder(path)
        return folder.bike, folder.setups
    recording = read_log(path, options=options_near(path))
    near = next((f for f in path.absolute().parents[:2] if (f / _BIKE_FILE).is_file()), None)
    bike = Bike() if near is None else read_bike(near / _BIKE_FILE)
    setup = replace(bike.setup(path.absolute().parent.name), name=path.name)
    return bike, (RideSetup(setup, (recording,)),)


def _pick_ups(judged: Sequence[tuple[RideSetup, Speedometer]], stated: str) -> list[str]:
    """Say where the instrument is driven from, the first setup against each of the others."""
    from gearfit.comparison.pick_up import pick_up
    from gearfit.findings.speedometer import pick_up_finding

    texts = []
    for ride, found in judged[1:]:
        reference, before = judged[0]
        told = pick_up(reference.setup, ride.setup, before, found)
        if told is not None:
            texts.append(pick_up_finding(reference.setup.name, ride.setup.name, told, stated).text)
    return texts


def _lines(name: str, found: Speedometer, unit: str) -> list[str]:
    from gearfit.findings.speedometer import remarks
    from gearfit.records.words import SAFE_FACTOR, in_unit, interval, number, value
    from gearfit.wording.columns import bullets, indented, table

    label = SPEED_UNIT_LABELS[unit]
    offset = in_unit(found.offset_mps, unit)
    lines = [
        f"{name}: {found.verdict}" + ("" if found.rule == "none" else f" ({found.rule})"),
        f"  shown = {value(found.gain)} x true {number(offset.value, 1, signed=True)} {label}; gain "
        f"{interval(found.gain)}, offset {interval(offset, signed=True)} {label} (95 % intervals), from "
        f"{', '.join(found.rests_on)}",
    ]
    if any(p.error_mps.hi95 < 0 for p in found.curve):
        lines.append("  It shows less than the true speed: you ride faster than the dash says. Correct it first.")
    head = (f"true [{label}]", "shown", "error", "95 % interval", "allowed", "verdict")
    lines += ["", *table(head, [_point(p, unit) for p in found.at])]
    if isinstance(found.correction, str):
        lines += ["", *indented(f"Pulse corrector: {found.correction}.")]
    else:
        factor = found.correction.pulse_factor
        lines += ["", *indented(f"A pulse corrector set to {factor:.3f} ({100 * (factor - 1):+.1f} %) would leave:")]
        lines += table(head[:5], [_point(p, unit)[:5] for p in found.correction.remaining])
        lines += indented(SAFE_FACTOR)
    lines += ["", "  Card for the dash:"]
    card = [(number(from_mps(c.shown_mps, unit), 0), number(from_mps(c.true_mps.value, unit), 0)) for c in found.card]
    lines += table((f"dash [{label}]", "true"), card)
    return [*lines, *bullets(remarks(found, unit))]


def _point(p: SpeedometerPoint, unit: str) -> tuple[str, ...]:
    from gearfit.records.words import NOTHING, in_unit, interval, number

    ends = (p.allowed_lo_mps, p.allowed_hi_mps)
    allowed = NOTHING if None in ends else " to ".join(f"{from_mps(e, unit):.1f}" for e in ends if e is not None)
    error = in_unit(p.error_mps, unit)
    more = f" (needs {p.readings_needed} more)" if p.readings_needed is not None else ""
    return (
        f"{from_mps(p.true_mps, unit):.1f}",
        number(in_unit(p.indicated_mps, unit).value, 1),
        number(error.value, 1, signed=True),
        interval(error, signed=True),
        allowed,
        p.verdict + more,
    )
