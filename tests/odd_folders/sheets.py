"""Sheets as delimited text: readings, timed runs, speedometer pairs, odometers, held engine speeds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from gearfit.units import SPEED_UNITS_MPS
from tests.odd_folders.machines import Ride

ROMAN: Final = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII")
ORDINAL: Final = ("1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th")
GEAR_FORMS: Final = ("3", "3rd", "gear 3", "III", "3.")
UNITS: Final = ("kmh", "mph", "mps")


@dataclass(frozen=True)
class Style:
    """How a file is written."""

    delimiter: str = ","
    comma: bool = False
    newline: str = "\n"
    encoding: str = "utf-8"
    gear_form: str = "3"
    unit: str = "kmh"
    #: Decimals of a speed; None writes every digit that a number has.
    decimals: int | None = 0
    #: Which place each column takes, by a number that orders them.
    order: int = 0
    remarks: bool = False


def draw_style(rng: np.random.Generator) -> Style:
    """Draw a way to write."""
    delimiter = str(rng.choice([",", ";", "\t"], p=[0.6, 0.25, 0.15]))
    return Style(
        delimiter,
        comma=delimiter != "," and bool(rng.random() < 0.4),
        newline=str(rng.choice(["\n", "\r\n"])),
        encoding=str(rng.choice(["utf-8", "utf-8-sig", "utf-16", "latin-1"], p=[0.7, 0.15, 0.05, 0.1])),
        gear_form=str(rng.choice(GEAR_FORMS)),
        unit=str(rng.choice(UNITS)),
        decimals=int(rng.integers(0, 4)),
        order=int(rng.integers(24)),
        remarks=bool(rng.random() < 0.2),
    )


def table(style: Style, columns: Mapping[str, Sequence[str]]) -> bytes:
    """Write columns of cells under their headers."""
    count = max(map(len, columns.values()), default=0)
    if style.remarks:
        columns = {**columns, "remark": [("", "gust", "ok")[k % 3] for k in range(count)]}
    names = list(np.random.default_rng(style.order).permutation(list(columns))) if style.order else list(columns)
    rows = [names, *([columns[name][k] for name in names] for k in range(count))]
    return (style.newline.join(style.delimiter.join(row) for row in rows) + style.newline).encode(style.encoding)


def number(style: Style, value: float, decimals: int | None) -> str:
    """Write a number."""
    text = f"{value:.12g}" if decimals is None else f"{value:.{decimals}f}"
    return text.replace(".", ",") if style.comma else text


def speeds(style: Style, speed_mps: Sequence[float]) -> list[str]:
    """Write speeds in the style's unit."""
    return [number(style, value / SPEED_UNITS_MPS[style.unit], style.decimals) for value in speed_mps]


def gear(style: Style, number: int) -> str:
    """Write a gear."""
    forms = {"3": f"{number}", "3.": f"{number}.", "gear 3": f"gear {number}"}
    return forms.get(style.gear_form) or {"3rd": ORDINAL[number - 1], "III": ROMAN[number - 1], "": ""}[style.gear_form]


def readings(ride: Ride, style: Style, speed_name: str = "speed", indicated: float | None = None) -> bytes:
    """Write readings: gear unless its form is empty, engine speed, speed, and what a speedometer showed."""
    columns: dict[str, Sequence[str]] = {}
    if style.gear_form:
        columns["gear"] = [gear(style, int(one)) for one in ride.gear]
    columns["rpm"] = [f"{one:.0f}" for one in ride.rpm]
    columns[f"{speed_name}_{style.unit}"] = speeds(style, ride.speed_mps.tolist())
    if indicated is not None:
        columns[f"indicated_{style.unit}"] = speeds(style, (ride.speed_mps * indicated).tolist())
    return table(style, columns)


def timed(rng: np.random.Generator, style: Style) -> bytes:
    """Write timed runs over one to three spans."""
    spans = [(0, 80), (60, 100), (0, 100)][: int(rng.integers(1, 4))]
    rows = [spans[int(rng.integers(len(spans)))] for _ in range(int(rng.integers(0, 12)))]
    times = [6 + 0.3 * float(rng.normal()) for _ in rows]
    return table(
        style,
        {
            "from_kmh": [str(low) for low, _ in rows],
            "to_kmh": [str(high) for _, high in rows],
            "time_s": [number(style, time, 2) for time in times],
        },
    )


def dash(rng: np.random.Generator, style: Style) -> bytes:
    """Write steady pairs of shown and true speed."""
    true = rng.uniform(5, 40, int(rng.integers(0, 14)))
    shown = true * rng.uniform(0.9, 1.15) + rng.normal(0, 0.2, true.size)
    columns = {"indicated": shown, "gps": true}
    return table(style, {f"{name}_{style.unit}": speeds(style, one.tolist()) for name, one in columns.items()})


def odometer(rng: np.random.Generator, style: Style) -> bytes:
    """Write odometer readings."""
    start, true = float(rng.integers(0, 99999)), rng.uniform(1, 80, int(rng.integers(1, 4)))
    return table(
        style,
        {
            "odometer_start_km": [number(style, start, 1)] * true.size,
            "odometer_end_km": [number(style, start + one * 1.02, 1) for one in true],
            "odometer_true_km": [number(style, float(one), 1) for one in true],
        },
    )


def held_rpm(ride: Ride, style: Style) -> bytes:
    """Write engine speeds held, without a speed."""
    gears = [gear(style, int(one)) for one in ride.gear]
    return table(style, {"gear": gears, "rpm": [f"{one:.0f}" for one in ride.rpm]})
