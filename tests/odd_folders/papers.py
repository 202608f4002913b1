"""bike.toml: complete, in part, at the ends of what is allowed, or beyond."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from tests.odd_folders.machines import SETUPS, Machine

#: Keys with values that are allowed, the ends of each range among them.
ALLOWED: Final[dict[str, dict[str, tuple[object, ...]]]] = {
    "engine": {
        "cylinders": (1, 2, 4, 12),
        "strokes": (2, 4),
        "limit_rpm": (1000, 6000, 11000, 30000),
        "torque_nm": (1, 40, 500),
    },
    "final_drive": {
        "kind": ("chain", "belt", "shaft"),
        "chain": ("415", "520", "630"),
        "links": (20, 110, 250),
        "slack_mm": ([0, 0], [25, 35], [200, 200]),
        "adjuster_mm": ([0, 0], [0, 30], [0, 200]),
        "axle_at_mm": (0, 10),
    },
    "tyre": {"size": ("140/70-17", "4.00-18", "MT90-16"), "rolling_circumference_mm": (500, 1950, 4000)},
    "speedometer": {
        "driven_from": ("front wheel", "rear wheel", "gearbox output", "unknown"),
        "regulation": ("UNECE R39", "49 CFR 393.82", "none"),
        "indicated_step_kmh": (0.01, 5, 20),
    },
    "mass": {
        "total_kg": (20, 255, 2000),
        "wheelbase_mm": (700, 1400, 2500),
        "cg_height_mm": (200, 700, 1500),
        "cg_to_rear_mm": (200, 650),
    },
    "motion": {
        "drag_area_m2": (0.1, 0.5, 2),
        "rolling_coefficient": (0.002, 0.015, 0.1),
        "rotating_kg": (1, 12),
        "tyre_grip": (0.2, 1, 2),
    },
    "wish": {"change_percent": (-50, 0, 5, 100), "cruise_kmh": (10, 100, 300), "at_rpm": (500, 5000, 30000)},
    "conditions": {
        "temperature_c": (-40, 20, 60),
        "pressure_hpa": (500, 1013, 1100),
        "altitude_m": (-450, 0, 5500),
        "correction": ("ISO 1585", "SAE J1349"),
    },
}
#: What is no value of any key.
NONSENSE: Final[tuple[object, ...]] = (0, -1, 1e300, "", "three", [], True, [1, 2, 3], "1/0")
Tables = dict[str, dict[str, object]]


def draw_papers(rng: np.random.Generator, machine: Machine) -> tuple[bytes | None, tuple[str, ...]]:
    """Draw bike.toml (None: there is none) and the names of the setups."""
    kind = str(rng.choice(["none", "right", "odd", "names", "broken"], p=[0.2, 0.3, 0.3, 0.15, 0.05]))
    if kind == "none":
        return None, SETUPS
    tables = right(machine)
    names: tuple[str, ...] = SETUPS
    if kind == "names":
        names = tuple(["standard", "long", "very long", "14-47"][: int(rng.integers(1, 5))])
        for place, name in enumerate(names):
            tables[f'setups."{name}"'] = {"front": 14 + place % 3, "rear": 45 - place}
        del tables["setups.before"], tables["setups.after"]
    else:
        for change in rng.permutation(len(_CHANGES))[: int(rng.integers(0, 4))] if kind == "odd" else ():
            _CHANGES[change](rng, tables)
    text = toml(tables)
    if kind == "broken":
        at = int(rng.integers(len(text)))
        text = text[:at] + str(rng.choice(['"', "[", "=", "\0", "x = 1\n", ""])) + text[at + 1 :]
    mark = b"\xef\xbb\xbf" if rng.random() < 0.1 else b""
    return mark + text.encode(), names


def right(machine: Machine) -> Tables:
    """State everything as it is."""
    size = {"rolling_circumference_mm": round(machine.circumference_m * 1000)}
    return {
        "": {"name": "Invented <bike> & 'co'"},
        "gearbox": {"primary": machine.primary, "gears": list(machine.gears)},
        "tyre": dict(size),
        "setups.before": dict(zip(("front", "rear"), machine.sprockets[0], strict=True)),
        "setups.after": dict(zip(("front", "rear"), machine.sprockets[1], strict=True)),
    }


def toml(tables: Tables) -> str:
    """Write tables."""
    lines = []
    for name, keys in tables.items():
        lines += [f"[{name}]"] if name else []
        lines += [f"{key} = {_value(value)}" for key, value in keys.items()]
    return "\n".join(lines) + "\n"


def _value(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    return f'"{value}"' if isinstance(value, str) else repr(value)


def _without_a_table(rng: np.random.Generator, tables: Tables) -> None:
    del tables[str(rng.choice(list(tables)))]


def _without_a_key(rng: np.random.Generator, tables: Tables) -> None:
    keys = tables[str(rng.choice(list(tables)))]
    if keys:
        del keys[str(rng.choice(list(keys)))]


def _more(rng: np.random.Generator, tables: Tables) -> None:
    for _ in range(int(rng.integers(1, 8))):
        name = str(rng.choice(list(ALLOWED)))
        key = str(rng.choice(list(ALLOWED[name])))
        values = ALLOWED[name][key]
        tables.setdefault(name, {})[key] = values[int(rng.integers(len(values)))]
    if {"cruise_kmh", "at_rpm"} & set(tables.get("wish", {})):
        tables["wish"] |= {"cruise_kmh": 100, "at_rpm": 5000}


def _other_gears(rng: np.random.Generator, tables: Tables) -> None:
    count = int(rng.integers(1, 11))
    ratios = np.sort(rng.uniform(0.3, 8, count))[::-1]
    tables.setdefault("gearbox", {})["gears"] = [round(float(ratio), 3) for ratio in ratios]


def _other_sprockets(rng: np.random.Generator, tables: Tables) -> None:
    front = int(rng.integers(3, 30))
    tables[f"setups.{SETUPS[int(rng.integers(2))]}"] = {"front": front, "rear": int(rng.integers(front, 201))}


def _nonsense(rng: np.random.Generator, tables: Tables) -> None:
    if rng.random() < 0.3:
        name = str(rng.choice(list(ALLOWED)))
        tables.setdefault(name, {})[str(rng.choice(list(ALLOWED[name])))] = NONSENSE[int(rng.integers(len(NONSENSE)))]


_CHANGES: Final[tuple[Callable[[np.random.Generator, Tables], None], ...]] = (
    _without_a_table,
    _without_a_key,
    _more,
    _other_gears,
    _other_sprockets,
    _nonsense,
)
