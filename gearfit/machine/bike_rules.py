"""What bike.toml may say: each key with the rule that its value has to meet.

A rule takes the value as found and returns it in the form of the records in `gearfit.machine.bike`, or raises
ValueError with what was found and what is allowed.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from itertools import pairwise
from typing import Final, NoReturn

from gearfit.foreign import LONGEST, safe_text
from gearfit.machine.tyre import overall_diameter_m
from gearfit.units import METRE_PER_INCH

Rule = Callable[[object], object]

FEWEST_TEETH: Final = 3
MOST_TEETH: Final = 200
MOST_GEARS: Final = 10

#: Motorcycle chains by code. The first digit is the pitch in eighths of an inch; ISO 10190 covers up to 19.05 mm.
CHAIN_CODES: Final = ("415", "420", "428", "520", "525", "530", "532", "630")
#: Largest part by which a stated rolling circumference may differ from what the size code leads one to expect.
CIRCUMFERENCE_TOLERANCE: Final = 0.15

_CHAIN = re.compile(r"(?P<code>\d{3})[A-Z]*", re.IGNORECASE)
_TEETH_PAIR = re.compile(r"\s*(?P<driven>\d+)\s*/\s*(?P<driving>\d+)\s*")
_SETUP_NAME = re.compile(r"\w(?:[\w .+-]{0,58}[\w+-])?")
_RESERVED_NAMES = re.compile(r"report|con|prn|aux|nul|(?:com|lpt)\d", re.IGNORECASE)


def shown(value: object) -> str:
    """Return a value as it stands in the file, shortened to one line."""
    return safe_text(json.dumps(value, ensure_ascii=False, default=str), 60)


def refuse(value: object, allowed: str) -> NoReturn:
    """Raise ValueError with what was found and what is allowed."""
    raise ValueError(f"found {shown(value)}; allowed {allowed}")


def chain_pitch_mm(chain: str) -> float:
    """Return the pitch in millimetres of a chain code that has met its rule."""
    return int(chain[0]) / 8 * METRE_PER_INCH * 1000


def setup_name(name: str) -> str:
    """Return the name of a setup, which is the name of a folder and part of file names.

    Raises
    ------
    ValueError
        The name cannot be a file name everywhere, or is that of the report's own folder.
    """
    if not _SETUP_NAME.fullmatch(name) or _RESERVED_NAMES.fullmatch(name.split(".")[0]):
        refuse(
            name,
            "are names of at most 60 letters, digits, spaces and . _ + - that can be file names (not 'report', "
            "which is the folder of the results)",
        )
    return name


#: Unicode categories of what no name holds: control characters, and separators of lines and paragraphs.
_NO_LETTERS: Final = ("Cc", "Zl", "Zp")


def _text(value: object) -> str:
    if not isinstance(value, str):
        refuse(value, "is text in quotation marks")
    return value


def _name(value: object) -> str:
    text = _text(value)
    if len(text) > LONGEST or any(unicodedata.category(sign) in _NO_LETTERS for sign in text):
        refuse(value, f"is one line of at most {LONGEST} letters, without control characters")
    return safe_text(text)


def _yes_or_no(value: object) -> bool:
    if not isinstance(value, bool):
        refuse(value, "is true or false")
    return value


def _one_of(*choices: str | int) -> Rule:
    def rule(value: object) -> object:
        if isinstance(value, bool | float) or value not in choices:
            refuse(value, f"is {' or '.join(shown(choice) for choice in choices)}")
        return value

    return rule


def _number(lowest: float, highest: float, unit: str) -> Callable[[object], float]:
    def rule(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not lowest <= value <= highest:
            refuse(value, f"are numbers from {lowest:g} to {highest:g}{unit}")
        return float(value)

    return rule


def _whole(lowest: int, highest: int, what: str) -> Callable[[object], int]:
    def rule(value: object) -> int:
        allowed = f"are whole numbers from {lowest} to {highest} ({what})"
        if isinstance(value, bool) or not isinstance(value, int | float) or not lowest <= value <= highest:
            refuse(value, allowed)
        if value != int(value):
            refuse(value, allowed)
        return int(value)

    return rule


def _range(lowest: float, highest: float, unit: str) -> Rule:
    end = _number(lowest, highest, unit)

    def rule(value: object) -> tuple[float, float]:
        allowed = f"are two numbers from {lowest:g} to {highest:g}{unit}, the smaller one first, such as [20, 30]"
        if not isinstance(value, list) or len(value) != 2:
            refuse(value, allowed)
        try:
            low, high = end(value[0]), end(value[1])
        except ValueError:
            refuse(value, allowed)
        if low > high:
            refuse(value, allowed)
        return low, high

    return rule


def _ratio(lowest: float, highest: float) -> Callable[[object], float]:
    def rule(value: object) -> float:
        pair = _TEETH_PAIR.fullmatch(value) if isinstance(value, str) else None
        ratio = value
        if pair:
            teeth = int(pair["driven"]), int(pair["driving"])
            if all(FEWEST_TEETH <= count <= MOST_TEETH for count in teeth):
                ratio = teeth[0] / teeth[1]
        if isinstance(ratio, bool) or not isinstance(ratio, int | float) or not lowest <= ratio <= highest:
            refuse(
                value,
                f'are driven/driving teeth as text such as "74/25" ({FEWEST_TEETH} to {MOST_TEETH} teeth each), or a '
                f"number, with a ratio from {lowest:g} to {highest:g}",
            )
        return float(ratio)

    return rule


def _gears(value: object) -> tuple[float, ...]:
    if not isinstance(value, list) or not 1 <= len(value) <= MOST_GEARS:
        refuse(value, f'is a list of 1 to {MOST_GEARS} ratios, first gear first, such as ["35/13", "31/17", 1.43]')
    ratio = _ratio(0.3, 8)
    gears = tuple(ratio(gear) for gear in value)
    for number, (lower, higher) in enumerate(pairwise(gears), start=1):
        if higher >= lower:
            raise ValueError(
                f"found gear {number + 1} with ratio {higher:.4g} after gear {number} with {lower:.4g}; allowed are "
                "ratios that become smaller from gear to gear, first gear first, each driven/driving"
            )
    return gears


def _firing(value: object) -> tuple[float, ...]:
    allowed = (
        "are the crank angles from each firing to the next, in degrees, 720 together for four strokes and 360 for two, "
        "such as [270, 450]"
    )
    if not isinstance(value, list) or not 1 <= len(value) <= 12:
        refuse(value, allowed)
    for angle in value:
        if isinstance(angle, bool) or not isinstance(angle, int | float) or not 0 < angle <= 720:
            refuse(value, allowed)
    if not any(abs(sum(value) - cycle) < 1 for cycle in (360, 720)):
        refuse(value, allowed)
    return tuple(map(float, value))


def _header(value: object) -> str:
    text = _text(value).strip()
    if not text or len(text) > 200 or "\n" in text:
        refuse(value, "is a column's header as it stands in the log, in quotation marks")
    return text


def _chain(value: object) -> str:
    code = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    match = _CHAIN.fullmatch(code.strip()) if isinstance(code, str) else None
    if match is None or match["code"] not in CHAIN_CODES:
        refuse(value, f"are the codes {', '.join(CHAIN_CODES)}; for another chain leave it out and give pitch_mm")
    return match[0]


def _tyre_size(value: object) -> str:
    size = _text(value)
    overall_diameter_m(size)
    return size


def _regulation(value: object) -> str | None:
    chosen = _one_of("UNECE R39", "49 CFR 393.82", "none")(value)
    return None if chosen == "none" else str(chosen)


#: Columns that the rider may name, and units that go with them.
COLUMN_HEADERS: Final = (
    *("time", "date", "speed", "indicated", "rpm", "gear", "latitude", "longitude", "elevation", "obd"),
)
SPEED_LABELS: Final = ("km/h", "mph", "m/s", "kn", "ft/s")


def _speed_unit(value: object) -> object:
    """Return the unit as it is written for people; "kmh" is how a header has it."""
    return _one_of(*SPEED_LABELS)({"kmh": "km/h", "mps": "m/s"}.get(value, value) if isinstance(value, str) else value)


#: Table and key -> rule. `setups` is apart: see `OVERRIDES`.
RULES: Final[Mapping[str, Mapping[str, Rule]]] = {
    "": {"name": _name, "same_clock": _yes_or_no},
    "engine": {
        "cylinders": _whole(1, 12, "cylinders"),
        "strokes": _one_of(2, 4),
        "limit_rpm": _number(1000, 30000, " rev/min"),
        "torque_nm": _number(1, 500, " N m"),
        "firing": _firing,
    },
    "gearbox": {"primary": _ratio(0.5, 10), "gears": _gears},
    "final_drive": {
        "kind": _one_of("chain", "belt", "shaft"),
        "front": _whole(FEWEST_TEETH, MOST_TEETH, "teeth"),
        "rear": _whole(FEWEST_TEETH, MOST_TEETH, "teeth"),
        "chain": _chain,
        "pitch_mm": _number(4, 40, " mm"),
        "links": _whole(20, 250, "links"),
        "slack_mm": _range(0, 200, " mm"),
        "adjuster_mm": _range(0, 200, " mm"),
        "axle_at_mm": _number(0, 200, " mm"),
    },
    "tyre": {
        "size": _tyre_size,
        "rolling_circumference_mm": _number(500, 4000, " mm"),
        "rolling_circumference_sd_mm": _number(0.1, 200, " mm"),
    },
    "speedometer": {
        "driven_from": _one_of("front wheel", "rear wheel", "gearbox output", "unknown"),
        "regulation": _regulation,
        "indicated_step_kmh": _number(0.01, 20, " km/h"),
        "indicated_step_mph": _number(0.01, 20, " mph"),
    },
    "mass": {
        "total_kg": _number(20, 2000, " kg"),
        "wheelbase_mm": _number(700, 2500, " mm"),
        "cg_height_mm": _number(200, 1500, " mm"),
        "cg_to_rear_mm": _number(200, 1500, " mm"),
    },
    "motion": {
        "drag_area_m2": _number(0.1, 2, " m2"),
        "rolling_coefficient": _number(0.002, 0.1, " (share of the weight)"),
        "rotating_kg": _number(1, 100, " kg"),
        "tyre_grip": _number(0.2, 2, " (thrust over load of the tyre)"),
    },
    "wish": {
        "change_percent": _number(-50, 100, " %"),
        "cruise_kmh": _number(10, 300, " km/h"),
        "at_rpm": _number(500, 30000, " rev/min"),
    },
    "columns": {
        **dict.fromkeys(COLUMN_HEADERS, _header),
        "time_unit": _one_of("h", "min", "s", "0.1 s", "cs", "ms", "µs"),
        "speed_unit": _speed_unit,
        "indicated_unit": _speed_unit,
        "elevation_unit": _one_of("m", "ft"),
    },
    "conditions": {
        "temperature_c": _number(-40, 60, " degrees Celsius"),
        "pressure_hpa": _number(500, 1100, " hPa, at the place and not reduced to sea level"),
        "altitude_m": _number(-450, 5500, " m"),
        "correction": _one_of("ISO 1585", "SAE J1349"),
    },
}

#: What each setup may override.
OVERRIDES: Final[Mapping[str, Rule]] = {
    **RULES["final_drive"],
    **RULES["tyre"],
    **RULES["conditions"],
    "same_clock": _yes_or_no,
}

#: A setup that states another value for the first key does not inherit the others: they described the old part.
REPLACES: Final[Mapping[str, Iterable[str]]] = {
    "kind": ("chain", "pitch_mm", "links"),
    "chain": ("pitch_mm",),
    "pitch_mm": ("chain",),
    "size": ("rolling_circumference_mm", "rolling_circumference_sd_mm"),
}
