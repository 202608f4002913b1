"""Every column of the tables with its unit: columns from the code that writes them, meanings from the schema."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, Final

from gearfit.report.files.export_tables import TABLES
from gearfit.report.files.tables import SAMPLE_COLUMNS, gears_frame
from tests.glossary.keys import SCHEMA, is_estimate, resolved
from tests.report import example

HEAD: Final = """# Every column of the tables

Made from the code and from `results.schema.json` by `python -m tests.glossary`. The columns of `summary.csv` are in
[batch.md](batch.md).

Files are UTF-8 with commas and decimal points, the header in the first line, empty where the data cannot say. A text
that a spreadsheet would take for a formula has an apostrophe before it.
"""
ENDS: Final = {
    "se": "standard error of",
    "lo95": "lower end of the 95 % interval of",
    "hi95": "upper end of the 95 % interval of",
}
#: Columns that are no key of results.json: unit and meaning.
OWN: Final = {
    "setup": ("–", "name of the setup"),
    "reference_setup": ("–", "name of the reference"),
    "other_setup": ("–", "name of the other setup"),
    "speed_per_1000rpm_kmh": ("km/h", "the same in km/h"),
    "speed_per_1000rpm_mph": ("mph", "the same in mph"),
    "change_consistent": ("–", "`True` or `False`: that change at 99 % over all gears"),
    "verdict": ("–", "within, outside, cannot tell yet or no rule"),
    "readings_needed": ("count", "about how many more readings would settle a verdict that cannot be told yet"),
    "about": ("–", "name of the setup that it speaks about; empty where of none in particular"),
    "outcome": ("–", "which of several outcomes it tells, where one code has several; empty else"),
}
SAMPLES: Final = {
    "setup": ("–", "name of the setup"),
    "file": ("–", "file, relative to the ride folder"),
    "row": ("number", "line or entry of that file"),
    "time_s": ("s", "time from the first sample of that file; empty for sheets"),
    "speed_mps": ("m/s", "road speed as read"),
    "engine_rpm": (
        "rev/min",
        "engine speed at the moment of the speed, as the fit used it: interpolated, lag taken out",
    ),
    "gear": ("number", "number of the gear; empty where none"),
    "left_out": ("–", "why there is no gear; empty where there is one"),
    "ln_ratio": ("–", "natural logarithm of engine speed [rev/min] over road speed [m/s]"),
}
#: Exported table -> records of the schema whose keys are its columns.
RECORDS: Final = {
    "gears": ("gear",),
    "changes": ("gear_change",),
    "runs": ("run",),
    "shifts": ("shift", "run"),
    "left_out_runs": ("left_out_run",),
    "spans": ("span",),
    "speedometer": ("speedometer_point",),
    "findings": ("finding",),
}


def described(column: str, records: Iterable[str]) -> tuple[str, str]:
    """Return unit and meaning of a column; KeyError where neither this file nor the schema knows it."""
    if column in OWN:
        return OWN[column]
    for record in records:
        node: dict[str, Any] = SCHEMA["$defs"][record]["properties"]
        if column in node:
            return node[column].get("x-unit", "–"), node[column]["description"].replace("; null", "; empty")
        for key, part in node.items():
            if column.startswith(f"{key}_") and "properties" in resolved(part) and not is_estimate(part):
                unit, text = described(column.removeprefix(f"{key}_"), [part["$ref"].rpartition("/")[2]])
                return unit, f"{part['description']}: {text}"
    base, _, end = column.rpartition("_")
    if end not in ENDS:
        raise KeyError(f"column {column!r}: neither results.schema.json nor tests/glossary/columns.py describes it")
    return described(base, records)[0], f"{ENDS[end]} `{base}`"


def table(rows: Iterable[tuple[str, tuple[str, str]]]) -> str:
    lines = [f"| `{name}` | {unit} | {meaning} |" for name, (unit, meaning) in rows]
    return "\n".join(["| column | unit | meaning |", "|---|---|---|", *lines, ""])


def page() -> str:
    """Return the text of docs/columns.md."""
    analysis = example.sheet_only()
    gears = ((name, described(name, ("gear", "gear_change"))) for name in gears_frame(analysis).columns)
    sections = [HEAD, "## gears.csv\n", table(gears)]
    sections += ["## samples_SETUP.csv\n", table((name, SAMPLES[name]) for name in SAMPLE_COLUMNS)]
    sections += ["## Tables of gearfit export\n", "One file a table, as CSV or Parquet: one row a record.\n"]
    for name, make in TABLES.items():
        sections.append(f"### {name}\n")
        columns = [str(column) for column in make(analysis).columns]
        known = SAMPLES if name == "samples" else {one: described(one, RECORDS[name]) for one in columns}
        sections.append(table((column, known[column]) for column in columns))
    return re.sub(r"\n{3,}", "\n\n", "\n".join(sections))
