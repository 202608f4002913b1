"""Forty ride folders as people write them, invented, through `gearfit report`: `python -m tests.validation.people`.

Each is the same kind of ride (readings held by hand, one tooth less in front) written down in another way. Judged is the
first thing a rider reads: the change, its interval, or the one line that says what to write.
"""

from __future__ import annotations

import argparse
import io
import json
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

import numpy as np

from gearfit.commands.cli import main

RATIOS = (12.4, 8.4, 6.3, 5.1, 4.4, 3.95)
#: One tooth less in front of fourteen.
FACTOR = 13 / 14


class Reading(NamedTuple):
    """One row of a notebook."""

    gear: int
    rpm: int
    kmh: float


Ride = dict[str, list[Reading]]
Writer = Callable[[Path, Ride], None]


def ride_of(seed: int) -> Ride:
    """Readings before and after, by a hand good to 0.7 %."""
    rng = np.random.default_rng(seed)
    return {
        setup: [
            Reading(gear, rpm, factor * 1.95 * rpm / 1000 * 60 / ratio * (1 + 0.007 * rng.standard_normal()))
            for gear, ratio in enumerate(RATIOS, 1)
            for rpm in (3500, 4500, 5500)
        ]
        for setup, factor in (("before", 1.0), ("after", FACTOR))
    }


def each(name: str, text: Callable[[list[Reading]], str]) -> Writer:
    """A file of its own in the folder of each setup."""

    def write(folder: Path, ride: Ride) -> None:
        for setup, readings in ride.items():
            (folder / setup).mkdir(parents=True)
            (folder / setup / name).write_text(text(readings), "utf-8")

    return write


def table(head: Sequence[str], row: Callable[[Reading], Sequence[object]], delimiter: str = ",") -> Callable[..., str]:
    """A delimited text."""

    def text(readings: list[Reading]) -> str:
        return "\n".join(delimiter.join(map(str, cells)) for cells in [head, *map(row, readings)]) + "\n"

    return text


def lines(row: Callable[[Reading], str], above: str = "", below: str = "") -> Callable[..., str]:
    """A note, a line a reading."""
    return lambda readings: above + "\n".join(map(row, readings)) + "\n" + below


def mph(reading: Reading) -> int:
    return round(reading.kmh / 1.609344)


def comma(value: float) -> str:
    return f"{value:.1f}".replace(".", ",")


def workbook(sheets: Callable[[Ride], dict[str, list[Any]]]) -> Writer:
    """One spreadsheet beside the folders of the setups."""

    def write(folder: Path, ride: Ride) -> None:
        import xlsxwriter

        folder.mkdir(parents=True, exist_ok=True)
        with xlsxwriter.Workbook(str(folder / "my rides.xlsx")) as book:
            for name, rows in sheets(ride).items():
                sheet = book.add_worksheet(name)
                for place, row in enumerate(rows):
                    sheet.write_row(place, 0, row)

    return write


def beside(name: str, text: Callable[[Ride], str]) -> Writer:
    """One text for both setups, beside their folders."""

    def write(folder: Path, ride: Ride) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text(ride), "utf-8")

    return write


def with_bike(bike: str, write: Writer) -> Writer:
    """The same with a bike.toml."""

    def both(folder: Path, ride: Ride) -> None:
        write(folder, ride)
        (folder / "bike.toml").write_text(bike, "utf-8")

    return both


def renamed(write: Writer, names: dict[str, str], bike: str = "") -> Writer:
    """The same in folders of other names."""

    def moved(folder: Path, ride: Ride) -> None:
        write(folder, ride)
        for old, new in names.items():
            (folder / old).rename(folder / new)
        if bike:
            (folder / "bike.toml").write_text(bike, "utf-8")

    return moved


ORDINALS = {1: "1st", 2: "2nd", 3: "3rd", 4: "4th", 5: "5th", 6: "6th"}
WORDS = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth"}
ROMAN = {1: "I", 2: "II", 3: "III", 4: "IV", 5: "V", 6: "VI"}
TEETH = "[final_drive]\nfront = 14\nrear = 43\n[setups.before]\n[setups.after]\nfront = 13\n"
PLAIN = table(("gear", "rpm", "mph"), lambda r: (r.gear, r.rpm, mph(r)))


def pairs(ride: Ride) -> list[tuple[Reading, Reading]]:
    return list(zip(ride["before"], ride["after"], strict=True))


FOLDERS: dict[str, Writer] = {
    "gear, rpm, mph": each("holds.csv", PLAIN),
    "Gear; RPM; Speed (km/h)": each(
        "a.csv", table(("Gear", "RPM", "Speed (km/h)"), lambda r: (r.gear, r.rpm, round(r.kmh)), ";")
    ),
    "German, decimal comma": each(
        "a.csv", table(("Gang", "Drehzahl", "Geschwindigkeit km/h"), lambda r: (f"{r.gear}.", r.rpm, comma(r.kmh)), ";")
    ),
    "German, Tacho km/h": each(
        "a.csv", table(("Gang", "U/min", "Tacho km/h"), lambda r: (r.gear, r.rpm, round(r.kmh)), "\t")
    ),
    "French": each(
        "a.csv",
        table(("rapport", "régime (tr/min)", "vitesse (km/h)"), lambda r: (f"{r.gear}e", r.rpm, comma(r.kmh)), ";"),
    ),
    "Spanish": each(
        "a.csv", table(("marcha", "revoluciones", "velocidad km/h"), lambda r: (f"{r.gear}ª", r.rpm, round(r.kmh)))
    ),
    "Italian": each("a.csv", table(("marcia", "giri/min", "velocità (km/h)"), lambda r: (r.gear, r.rpm, round(r.kmh)))),
    "Dutch": each(
        "a.csv", table(("versnelling", "toerental", "snelheid km/u"), lambda r: (r.gear, r.rpm, round(r.kmh)), ";")
    ),
    "1st, 2nd, 3rd": each("a.csv", table(("gear", "rpm", "mph"), lambda r: (ORDINALS[r.gear], r.rpm, mph(r)))),
    "first, second, third": each("a.csv", table(("gear", "rpm", "mph"), lambda r: (WORDS[r.gear], r.rpm, mph(r)))),
    "I, II, III": each("a.csv", table(("gear", "rpm", "mph"), lambda r: (ROMAN[r.gear], r.rpm, mph(r)))),
    "units in the cells": each(
        "a.csv", table(("gear", "rpm", "speed"), lambda r: (r.gear, f"{r.rpm} rpm", f"{mph(r)} mph"))
    ),
    "doubts": each(
        "a.csv", table(("gear", "rpm", "mph"), lambda r: (r.gear, r.rpm, f"~{mph(r)}" if r.rpm == 4500 else mph(r)))
    ),
    "question marks": each(
        "a.csv", table(("gear", "rpm", "mph"), lambda r: (r.gear, r.rpm, f"{mph(r)}?" if r.gear == 5 else mph(r)))
    ),
    "thousands": each("a.csv", table(("gear", "rpm x1000", "km/h"), lambda r: (r.gear, r.rpm / 1000, round(r.kmh)))),
    "a title and remarks": each(
        "a.csv",
        lines(
            lambda r: f"{r.gear},{r.rpm},{mph(r)},{'gust' if r.gear == 4 else ''}",
            "My ride, Sunday\ngear,rpm,mph,remark\n",
        ),
    ),
    "a line of averages": each(
        "a.csv", lines(lambda r: f"{r.gear},{r.rpm},{mph(r)}", "gear,rpm,mph\n", "average,4500,41\n")
    ),
    "blanks": each("a.txt", lines(lambda r: f"{r.gear} {r.rpm} {mph(r)}", "gear rpm mph\n")),
    "columns in line": each(
        "a.txt", lines(lambda r: f"{r.gear:<8}{r.rpm:<12}{round(r.kmh)}", "gear    engine rpm  speed km/h\n")
    ),
    "3rd 5000 rpm 50 mph": each("note.txt", lines(lambda r: f"{ORDINALS[r.gear]} {r.rpm} rpm {mph(r)} mph")),
    "3rd gear: 50 mph at 5000 rpm": each(
        "note.txt", lines(lambda r: f"{ORDINALS[r.gear]} gear: {mph(r)} mph at {r.rpm} rpm", "Before lunch.\n")
    ),
    "5000rpm @ 80km/h, third": each("note.txt", lines(lambda r: f"{r.rpm}rpm @ {round(r.kmh)}km/h, {WORDS[r.gear]}")),
    "3. Gang 5000 U/min 80 km/h": each(
        "note.txt", lines(lambda r: f"{r.gear}. Gang {r.rpm} U/min {round(r.kmh)} km/h")
    ),
    "no header": each("a.csv", lines(lambda r: f"{r.gear},{r.rpm},{mph(r)}")),
    "no unit": each("a.csv", table(("gear", "rpm", "speed"), lambda r: (r.gear, r.rpm, mph(r)))),
    "no gears": each("a.csv", table(("rpm", "mph"), lambda r: (r.rpm, mph(r)))),
    "no gears, teeth stated": with_bike(TEETH, each("a.csv", table(("rpm", "mph"), lambda r: (r.rpm, mph(r))))),
    "satnav": each("a.csv", table(("Gear", "RPM", "Satnav mph"), lambda r: (r.gear, r.rpm, mph(r)))),
    "true": each("a.csv", table(("Gear", "RPM", "True km/h"), lambda r: (r.gear, r.rpm, comma(r.kmh)), ";")),
    "MPH before, MPH after": beside(
        "both.csv",
        lambda ride: (
            "gear,rpm,MPH before,MPH after\n" + "".join(f"{a.gear},{a.rpm},{mph(a)},{mph(b)}\n" for a, b in pairs(ride))
        ),
    ),
    "a column setup": beside(
        "all.csv",
        lambda ride: (
            "setup,gear,rpm,km/h\n"
            + "".join(
                f"{setup},{r.gear},{r.rpm},{round(r.kmh)}\n" for setup, readings in ride.items() for r in readings
            )
        ),
    ),
    "a workbook, two worksheets": workbook(
        lambda ride: {
            setup.title(): [["Gear", "RPM", "MPH"], *[[r.gear, r.rpm, mph(r)] for r in readings]]
            for setup, readings in ride.items()
        }
    ),
    "a workbook, title and total": workbook(
        lambda ride: {
            setup: [
                ["Tarn 350"],
                [],
                ["Gear", "RPM", "km/h"],
                *[[ORDINALS[r.gear], r.rpm, round(r.kmh, 1)] for r in readings],
                ["Total", "", 18],
            ]
            for setup, readings in ride.items()
        }
    ),
    "a workbook, before and after as columns": workbook(
        lambda ride: {
            "Sheet1": [
                ["Gear", "RPM", "MPH before", "MPH after"],
                *[[a.gear, a.rpm, mph(a), mph(b)] for a, b in pairs(ride)],
            ]
        }
    ),
    "folders 14T and 13T, not listed": renamed(each("a.csv", PLAIN), {"before": "14T", "after": "13T"}),
    "folders 14T and 13T, listed": renamed(
        each("a.csv", PLAIN),
        {"before": "14T", "after": "13T"},
        "[setups.14T]\nfront = 14\n[setups.13T]\nfront = 13\n[final_drive]\nrear = 43\n",
    ),
    "quotation marks of a phone": with_bike(f"name = “Tarn 350”\n{TEETH}", each("a.csv", PLAIN)),
    "teeth stated": with_bike(TEETH, each("a.csv", PLAIN)),
    "tabs": each("a.txt", table(("Gear", "Revs", "Speed mph"), lambda r: (r.gear, r.rpm, mph(r)), "\t")),
    "an empty line after each gear": each(
        "a.csv", lines(lambda r: f"{r.gear},{r.rpm},{mph(r)}" + ("\n" if r.rpm == 5500 else ""), "gear,rpm,mph\n")
    ),
}


def judged(folder: Path) -> tuple[str, str]:
    """Report a folder; return the verdict and what a rider reads."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = main(["report", str(folder)])
    if code:
        return "one line shows what to write", err.getvalue().strip().removeprefix(f"gearfit: {folder}").removeprefix(
            "gearfit: "
        )
    change = json.loads((folder / "report" / "results.json").read_text("utf-8"))["comparison"][
        "all_gears_change_percent"
    ]
    said = out.getvalue().splitlines()[1]
    if change is None or "cannot tell" in said:
        return "cannot tell, and says so", said
    true = 100 * (FACTOR - 1)
    wide = 3 * (change["hi95"] - change["lo95"]) / 4
    if change["lo95"] <= true <= change["hi95"]:
        return "right", said
    return ("interval too narrow" if abs(change["value"] - true) < wide else "wrong as if sure"), said


def study() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.validation.people", description=__doc__)
    parser.add_argument("--first-seed", type=int, default=3_000_000)
    first = parser.parse_args().first_seed
    counts: Counter[str] = Counter()
    print("| written as | verdict | what the rider reads |\n|---|---|---|")
    for seed, (name, write) in enumerate(FOLDERS.items(), first):
        with TemporaryDirectory() as place:
            write(Path(place) / "bike", ride_of(seed))
            verdict, said = judged(Path(place) / "bike")
        counts[verdict] += 1
        print(f"| {name} | {verdict} | {said.replace('|', '/').replace(place, '')} |", flush=True)
    print(
        f"\n{sum(counts.values())} folders: "
        + ", ".join(f"{count} {verdict}" for verdict, count in counts.most_common())
    )
    return int(any(verdict.startswith("wrong") for verdict in counts))


if __name__ == "__main__":
    sys.exit(study())
