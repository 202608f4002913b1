"""What goes wrong on paper: one misread row, gears that were not noted, a gear that was not ridden again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from gearfit.units import MPS_PER_MPH
from tests.validation.notebooks.choices import Choices
from tests.validation.notebooks.rides import Row, unit_mps

#: A slip turns a row into the row as written down, or gives None where this row cannot have it.
Slip = Callable[[np.random.Generator, Row, float], "Row | None"]


def forget(rng: np.random.Generator, sheets: list[list[Row]], choices: Choices) -> list[list[Row]]:
    """Leave gears out of the notes, or one gear out of one ride."""
    one = int(rng.integers(2))
    if choices.gears == "none":
        return [_without_gears(rows, np.ones(len(rows), bool)) for rows in sheets]
    if choices.gears == "half":
        return [_without_gears(rows, rng.random(len(rows)) < 0.5) for rows in sheets]
    if choices.gears == "none in one setup":
        sheets[one] = _without_gears(sheets[one], np.ones(len(sheets[one]), bool))
    if choices.gears == "one not ridden":
        gone = rng.choice(sorted({row.true_gear for row in sheets[one]}))
        sheets[one] = [row for row in sheets[one] if row.true_gear != gone]
    return sheets


def slip(rng: np.random.Generator, sheets: list[list[Row]], choices: Choices) -> list[list[Row]]:
    """Misread one row of one ride."""
    if choices.slip == "none":
        return sheets
    unit = MPS_PER_MPH / unit_mps(choices)
    one = int(rng.integers(2))
    for place in rng.permutation(len(sheets[one])):
        slipped = SLIPS[choices.slip](rng, sheets[one][place], unit)
        if slipped is not None:
            sheets[one][place] = replace(slipped, slip=choices.slip)
            break
    return sheets


def _without_gears(rows: list[Row], forgotten: np.ndarray) -> list[Row]:
    return [replace(row, gear=None) if gone else row for row, gone in zip(rows, forgotten, strict=True)]


def _with_speed(row: Row, speed: float) -> Row:
    """Put another number where the person read the speed that counts."""
    return replace(row, speed=speed) if row.beside is None else replace(row, beside=speed)


def _speed(row: Row) -> float:
    return row.speed if row.beside is None else row.beside


def _speed_off(rng: np.random.Generator, row: Row, mph: float) -> Row | None:
    speed = _speed(row) + round(float(rng.integers(2, 6)) * mph) * float(rng.choice([-1, 1]))
    return _with_speed(row, speed) if speed > 0 else None


def _digits_swapped(rng: np.random.Generator, row: Row, mph: float) -> Row | None:
    speed = _speed(row)
    tens, ones = divmod(int(speed) % 100, 10)
    swapped = speed + 9 * (ones - tens)
    return _with_speed(row, swapped) if tens != ones and swapped >= 10 else None


def _wrong_gear(rng: np.random.Generator, row: Row, mph: float) -> Row | None:
    if row.gear is None:
        return None
    return replace(row, gear=row.gear + 1 if row.gear == 1 else row.gear - 1)


def _rpm_off(rng: np.random.Generator, row: Row, mph: float) -> Row | None:
    rpm = row.rpm + 1000 * float(rng.choice([-1, 1]))
    return replace(row, rpm=rpm) if rpm >= 1500 else None


SLIPS: dict[str, Slip] = {
    "speed off": _speed_off,
    "digits swapped": _digits_swapped,
    "wrong gear": _wrong_gear,
    "rpm 1000 off": _rpm_off,
}
