"""What is said while a person types: the prediction beside the teeth, and a reading that does not fit the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

from gearfit.errors import InputError
from gearfit.importers.common.gear_words import read_gear
from gearfit.machine.bike import Bike
from gearfit.prediction.basis import on_paper
from gearfit.prediction.swap import Hold, predict, refitted
from gearfit.records.words import gear_name
from gearfit.units import to_mps
from gearfit.wording.swap_brief import brief_sentences

#: A reading is pointed at where it is further from the others of its gear than this share of itself (ours: a slip of
#: the pen is a digit, a held needle is good to one or two per cent), and than so many units.
_FAR_SHARE: Final = 0.045
_FAR_UNITS: Final = 1.5
_FEWEST: Final = 3
#: Share of the others that have to agree among themselves: else any of them may be the one that is wrong.
_MOST_AGREE: Final = 0.75
_CRUISES: Final = {"kmh": 100.0, "mph": 60.0}


def prediction(bike: Bike, setups: Sequence[str], unit: str, known: Hold | None) -> list[str]:
    """Return the prediction in short for the first two setups; what is missing where there is none."""
    try:
        first, second = (bike.setup(name) for name in setups[:2])
        now = on_paper(bike, first, "the form")
        after = refitted(now, second.final_drive, second.tyre)
    except InputError:
        return ["Write the teeth of both sprockets, before and after: the prediction stands here."]
    if (first.final_drive.front, first.final_drive.rear) == (second.final_drive.front, second.final_drive.rear) and (
        first.tyre == second.tyre
    ):
        return ["Before and after are alike: write what is changed."]
    cruise = () if known is not None else (to_mps(_CRUISES[unit], unit),)
    return brief_sentences(predict(bike, now, after, cruise_mps=cruise, known=known), unit)


def misfits(rows: Sequence[Sequence[str]], head: Sequence[str], bike: Bike | None) -> dict[int, str]:
    """Return the rows of a sheet of readings that do not fit the others, with what would.

    Speed over engine speed is one number in each gear; with a stated gearbox, times the gear's ratio it is one number
    in all gears. A hint for the one who types: the report decides with more care.
    """
    columns = {name.strip().casefold(): i for i, name in enumerate(head)}
    speed = next((i for name, i in columns.items() if name.startswith(("speed", "indicated"))), None)
    if speed is None or "gear" not in columns or "rpm" not in columns:
        return {}
    ratios = bike.gearbox.gears if bike is not None else None
    found: dict[int, _Reading] = {}
    for place, row in enumerate(rows):
        gear = read_gear(_cell(row, columns["gear"]))
        rpm, shown = _number(_cell(row, columns["rpm"])), _number(_cell(row, speed))
        if gear and rpm and shown:
            known = ratios is not None and gear <= len(ratios)
            found[place] = _Reading(gear, rpm, shown, ratios[gear - 1] if ratios is not None and known else None)
    said = {}
    for place, one in found.items():
        others = [other.per_rpm for k, other in found.items() if k != place and one.goes_with(other)]
        if len(others) + 1 < _FEWEST:
            continue
        middle, to_speed = median(others), one.rpm / (one.ratio or 1.0)
        fits = middle * to_speed
        far = max(_FAR_SHARE * fits, _FAR_UNITS)
        agree = sum(abs(other - middle) * to_speed <= far for other in others)
        if abs(one.speed - fits) > far and agree >= _MOST_AGREE * len(others):
            name = gear_name(one.gear)
            said[place] = f"{name}: {fits:.0f} would fit the others, not {one.speed:g}. Right as written?"
    return said


@dataclass(frozen=True)
class _Reading:
    gear: int
    rpm: float
    speed: float
    ratio: float | None

    @property
    def per_rpm(self) -> float:
        return self.speed / self.rpm * (self.ratio or 1.0)

    def goes_with(self, other: _Reading) -> bool:
        return self.gear == other.gear or (self.ratio is not None and other.ratio is not None)


def _cell(row: Sequence[str], place: int) -> str:
    return row[place].strip() if place < len(row) else ""


def _number(text: str) -> float | None:
    try:
        number = float(text.strip("~≈? ").replace(",", ".")) if "_" not in text else 0.0
    except ValueError:
        return None
    return number if 0 < number < 1e6 else None
