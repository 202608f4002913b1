"""gears.csv and samples_<setup>.csv, for spreadsheets: tidy, one unit a column, safe to open."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import pandas as pd

from gearfit.records.results import Analysis, Estimate, GearChange, SetupResult
from gearfit.units import from_mps

SAMPLE_COLUMNS: Final = ["file", "time_s", "speed_mps", "engine_rpm", "gear", "left_out"]
#: A cell that begins with one of these would be taken for a formula.
FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")
_FLOAT_FORMAT: Final = "%.9g"
_NOT_FOR_FILE_NAMES: Final = re.compile(r"[^\w.\-]+")


def safe_cell(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would run as a formula."""
    return "'" + text if text.startswith(FORMULA_STARTS) else text


def sample_file_names(setups: Sequence[str]) -> list[str]:
    """Return `samples_<setup>.csv` per setup, each different, of characters that every file system takes."""
    names: list[str] = []
    for setup in setups:
        stem = name = "samples_" + _NOT_FOR_FILE_NAMES.sub("_", setup)
        further = 2
        while f"{name}.csv".lower() in (known.lower() for known in names):
            name = f"{stem}_{further}"
            further += 1
        names.append(f"{name}.csv")
    return names


def samples_text(result: SetupResult) -> str:
    """Return as CSV every sample of one setup, in order, with its gear or the reason why it has none."""
    table = result.samples[SAMPLE_COLUMNS].copy()
    for column in ("file", "left_out"):
        table[column] = table[column].map({text: safe_cell(text) for text in table[column].unique()})
    # each number by itself: `float_format` takes half as long again
    for column in ("time_s", "speed_mps", "engine_rpm"):
        numbers = table[column].to_numpy(float).tolist()
        table[column] = pd.array([_FLOAT_FORMAT % x if math.isfinite(x) else None for x in numbers], dtype=object)
    return table.to_csv(index=False, lineterminator="\n")


def write_gears(analysis: Analysis, path: Path) -> None:
    """Write the table of gears."""
    _write(gears_frame(analysis), path)


def gears_frame(analysis: Analysis) -> pd.DataFrame:
    """Return the table of gears, one row per setup and gear; change columns are empty for the reference."""
    changes = {(comparison.other, gear.gear): gear for comparison in analysis.comparisons for gear in comparison.gears}
    rows = [
        {
            "setup": safe_cell(result.setup.name),
            "gear": gear.gear,
            "samples": gear.samples,
            "passages": gear.passages,
            **_speed_columns(gear.speed_per_1000rpm_mps),
            **_columns("overall_ratio", gear.overall_ratio),
            "nominal_overall_ratio": gear.nominal_overall_ratio,
            **_columns("deviation_percent", gear.deviation_percent),
            "consistent": gear.consistent,
            **_change_columns(changes.get((result.setup.name, gear.gear))),
        }
        for result in analysis.setups
        for gear in result.gears
    ]
    return pd.DataFrame(rows, columns=_gear_columns())


def _gear_columns() -> list[str]:
    return [
        *("setup", "gear", "samples", "passages"),
        *_speed_columns(None),
        *_columns("overall_ratio", None),
        "nominal_overall_ratio",
        *_columns("deviation_percent", None),
        "consistent",
        *_change_columns(None),
    ]


def _columns(name: str, estimate: Estimate | None) -> dict[str, object]:
    """Value and ends of the interval; the first is named as the quantity."""
    if estimate is None:
        return {name: None, f"{name}_lo95": None, f"{name}_hi95": None}
    return {name: estimate.value, f"{name}_lo95": estimate.lo95, f"{name}_hi95": estimate.hi95}


def _speed_columns(estimate_mps: Estimate | None) -> dict[str, object]:
    columns: dict[str, object] = {}
    for unit in ("mps", "kmh", "mph"):
        scaled = None if estimate_mps is None else estimate_mps.scaled(from_mps(1.0, unit))
        columns |= _columns(f"speed_per_1000rpm_{unit}", scaled)
    return columns


def _change_columns(change: GearChange | None) -> dict[str, object]:
    return {
        **_columns("change_percent", None if change is None else change.change_percent),
        "predicted_percent": None if change is None else change.predicted_percent,
        "change_consistent": None if change is None else change.consistent,
    }


def _write(table: pd.DataFrame, path: Path) -> None:
    finite = table.replace([float("inf"), float("-inf")], float("nan"))
    finite.to_csv(path, index=False, float_format=_FLOAT_FORMAT, encoding="utf-8", lineterminator="\n")
