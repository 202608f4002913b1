"""The sheet as a person writes it: headers, delimiters, units, gears in words, titles, blank lines, remarks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from tests.validation.notebooks.choices import Choices
from tests.validation.notebooks.rides import Row

UNITS: Final = {True: ("mph", "MPH"), False: ("kmh", "km/h", "kph")}
#: Headers of each column; {} takes the unit.
SPEEDS: Final = ("speed_{}", "Speed ({})", "speed [{}]", "GPS speed {}", "Velocity ({})", "SPEED {}", "gps_{}")
INDICATED: Final = ("indicated_{}", "Indicated ({})", "speedo_{}", "Speedometer [{}]", "Dash {}")
RPMS: Final = ("rpm", "RPM", "Revs", "Engine speed (rpm)", "tacho", "Engine RPM [rpm]", "rpm_x1000", "krpm")
THOUSANDS: Final = ("rpm_x1000", "krpm")
GEARS: Final = ("gear", "Gear", "GEAR")
TITLES: Final = ("Sprocket test", "Sunday ride, dry, light wind", "My bike", "Readings by passenger")
REMARKS: Final = ("", "", "", "gust", "slight climb", "ok", "steady")
ROMAN: Final = ("I", "II", "III", "IV", "V", "VI")
ORDINAL: Final = ("1st", "2nd", "3rd", "4th", "5th", "6th")


@dataclass(frozen=True)
class Hand:
    """How one person writes."""

    delimiter: str
    comma: bool
    speed: str
    indicated: str
    rpm: str
    gear: str
    gear_form: str
    unit_in_cells: str
    about_share: float
    title: bool
    blank_lines: bool
    zeros: bool
    remarks: bool
    order: str
    columns: tuple[str, ...]
    encoding: str
    newline: str

    @property
    def classes(self) -> dict[str, str]:
        """Headings under which the folder is counted."""
        unit = "in header and cells" if self.unit_in_cells else "in header"
        return {
            "gears as": self.gear_form if "gear" in self.columns else "no column",
            "unit": "in cells only" if self.speed == "speed" else unit,
            "about": "some ~46" if self.about_share else "never",
            "rpm header": "in thousands" if self.rpm in THOUSANDS else "plain",
        }


def draw_hand(rng: np.random.Generator, choices: Choices, some_gears: bool) -> Hand:
    """Draw a handwriting; most people write plainly."""
    unit = str(rng.choice(UNITS[choices.mph]))
    delimiter = str(rng.choice([",", ";", "\t", "|"], p=[0.55, 0.2, 0.2, 0.05]))
    in_cells = str(rng.choice(["", unit], p=[0.85, 0.15]))
    bare = bool(in_cells) and rng.random() < 0.3
    columns = ["rpm", "speed"] + ["gear"] * some_gears + ["indicated"] * (choices.speeds == "both")
    if rng.random() < 0.3:
        rng.shuffle(columns)
    else:
        columns.reverse()
    plain = rng.random() < 0.5
    hand = Hand(
        delimiter,
        comma=bool(delimiter in (";", "\t") and rng.random() < 0.5),
        speed="speed" if bare else str(rng.choice(SPEEDS)).format(unit),
        indicated=str(rng.choice(INDICATED)).format(unit),
        rpm=str(rng.choice(RPMS, p=[0.3, 0.2, 0.1, 0.1, 0.1, 0.1, 0.05, 0.05])),
        gear=str(rng.choice(GEARS)),
        gear_form="3" if plain else str(rng.choice(["3", "3rd", "III", "gear 3", "3."])),
        unit_in_cells=in_cells,
        about_share=float(rng.choice([0.0, 0.2], p=[0.85, 0.15])),
        title=bool(rng.random() < 0.15),
        blank_lines=bool(rng.random() < 0.15),
        zeros=bool(rng.random() < 0.1),
        remarks=bool(rng.random() < 0.15),
        order=str(rng.choice(["as ridden", "by gear", "any"])),
        columns=tuple(columns),
        encoding=str(rng.choice(["utf-8", "utf-8-sig", "utf-16", "latin-1"], p=[0.7, 0.12, 0.06, 0.12])),
        newline=str(rng.choice(["\n", "\r\n"])),
    )
    if not choices.neat:
        return hand
    neat = replace(hand, gear_form="3", unit_in_cells="", about_share=0.0, rpm="rpm", title=False, zeros=False)
    return replace(neat, speed=f"speed_{unit}")


def sheet(rng: np.random.Generator, hand: Hand, rows: list[Row], speedometer: bool) -> tuple[bytes, dict[int, Row]]:
    """Write one sheet; returned with the rows by line number, the first line of the file being 1."""
    lines = [str(rng.choice(TITLES)), ""] if hand.title else []
    heads = {
        "gear": hand.gear,
        "rpm": hand.rpm,
        "speed": hand.indicated if speedometer else hand.speed,
        "indicated": hand.indicated,
    }
    lines.append(hand.delimiter.join([heads[c] for c in hand.columns] + ["remark"] * hand.remarks))
    where: dict[int, Row] = {}
    for k, row in enumerate(_ordered(rng, hand, rows)):
        if hand.blank_lines and k and rng.random() < 0.2:
            lines.append("")
        lines.append(hand.delimiter.join(_cells(rng, hand, row)))
        where[len(lines)] = row
    if hand.zeros:
        lines.append(hand.delimiter.join(["0"] * len(hand.columns) + [""] * hand.remarks))
    text = hand.newline.join(lines) + hand.newline
    return text.encode(hand.encoding), where


def _ordered(rng: np.random.Generator, hand: Hand, rows: list[Row]) -> list[Row]:
    """Rows by gear, once through the gears and again, or in any order."""
    if hand.order == "any":
        return [rows[k] for k in rng.permutation(len(rows))]
    if hand.order == "by gear":
        return rows
    turns = [[other.true_gear for other in rows[:k]].count(row.true_gear) for k, row in enumerate(rows)]
    return [rows[k] for k in np.argsort(turns, kind="stable")]


def _cells(rng: np.random.Generator, hand: Hand, row: Row) -> list[str]:
    speed = row.speed if row.beside is None else row.beside
    unit = f" {hand.unit_in_cells}" if hand.unit_in_cells else ""
    about = "~" if rng.random() < hand.about_share else ""
    cells = {
        "gear": _gear(hand, row.gear),
        "rpm": _number(hand, row.rpm / 1000 if hand.rpm in THOUSANDS else row.rpm),
        "speed": f"{about}{_number(hand, speed)}{unit}",
        "indicated": _number(hand, row.speed),
    }
    return [cells[c] for c in hand.columns] + [str(rng.choice(REMARKS))] * hand.remarks


def _number(hand: Hand, value: float) -> str:
    text = f"{value:g}"
    return text.replace(".", ",") if hand.comma else text


def _gear(hand: Hand, gear: int | None) -> str:
    if gear is None:
        return ""
    forms = {
        "3": str(gear),
        "3rd": ORDINAL[gear - 1],
        "III": ROMAN[gear - 1],
        "gear 3": f"gear {gear}",
        "3.": f"{gear}.",
    }
    return forms[hand.gear_form]
