"""The tables that every importer hands over: columns, dtypes and rules, checked once at the border.

Sample table, one row for every sample read, in the order of the file:

============== ======= =====================================================================
column         dtype   meaning
============== ======= =====================================================================
file           str     file the sample came from, relative to the ride folder
row            int64   line of a text file or number of a track point, as a person counts (from 1)
time_s         float64 seconds since the first sample of the file; NaN in sheets
speed_mps      float64 road speed; NaN where none was read
speed_sd_mps   float64 standard error of that speed from reading or receiver, noise aside; NaN unknown
speed_fresh    bool    the speed was measured anew in this row (not held from an earlier one)
engine_rpm     float64 engine speed in rev/min; NaN where none was read
rpm_sd_rpm     float64 standard error of that engine speed from its resolution; NaN unknown
rpm_fresh      bool    the engine speed was measured anew in this row
stated_gear    float64 gear as the rider noted it (1 = first); NaN where not noted, or not so that it can be read
indicated_mps  float64 what the speedometer showed; NaN where not noted
elevation_m    float64 height; NaN unknown
latitude_deg   float64 WGS84; NaN unknown
longitude_deg  float64 WGS84; NaN unknown
============== ======= =====================================================================

Table of hand-timed runs, one row a run:

======== ======= ==============================
file     str     file the run came from
row      int64   line of the file
from_mps float64 speed at the start (0 = standing)
to_mps   float64 speed at the end, above from_mps
time_s   float64 time taken, above 0
======== ======= ==============================
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.errors import LogError

SAMPLE_DTYPES: Final[dict[str, str]] = {
    "file": "str",
    "row": "int64",
    "time_s": "float64",
    "speed_mps": "float64",
    "speed_sd_mps": "float64",
    "speed_fresh": "bool",
    "engine_rpm": "float64",
    "rpm_sd_rpm": "float64",
    "rpm_fresh": "bool",
    "stated_gear": "float64",
    "indicated_mps": "float64",
    "elevation_m": "float64",
    "latitude_deg": "float64",
    "longitude_deg": "float64",
}

RUN_DTYPES: Final[dict[str, str]] = {
    "file": "str",
    "row": "int64",
    "from_mps": "float64",
    "to_mps": "float64",
    "time_s": "float64",
}

#: Highest speed and engine speed taken for a reading rather than a slip (no road vehicle reaches them).
SPEED_CEILING_MPS: Final = 150.0
RPM_CEILING_RPM: Final = 30_000.0
#: Heights that roads have, m: from a little below the lowest land to a little above the highest (common practice, no
#: source).
HEIGHTS_M: Final = (-500.0, 9000.0)


def sample_table(file: str, n: int, **columns: object) -> pd.DataFrame:
    """Build a sample table of `n` rows; columns not given are NaN (fresh flags: where a value stands).

    Arrays become part of the table without a copy where they can: nobody writes to them afterwards.

    Parameters
    ----------
    file : str
        Name of the file, relative to the ride folder.
    n : int
        Number of rows.
    **columns
        Any of `SAMPLE_DTYPES`, each an array of length `n`.

    Raises
    ------
    LogError
        As `check_samples`.
    """
    index = pd.RangeIndex(n)
    # Columns without values share one array; pandas gives each its own when somebody writes to it.
    unknown = pd.Series(np.full(n, np.nan), index=index, copy=False)
    data: dict[str, Any] = {}
    taken: set[int] = set()
    for name, dtype in SAMPLE_DTYPES.items():
        if name in columns:
            data[name] = _own(np.asarray(columns[name]), dtype, taken)
        elif name == "file":
            data[name] = pd.Series(file, index=index, dtype="str")
        elif name == "row":
            data[name] = np.arange(1, n + 1, dtype=np.int64)
        elif name == "speed_fresh":
            data[name] = ~np.isnan(data["speed_mps"])
        elif name == "rpm_fresh":
            data[name] = ~np.isnan(data["engine_rpm"])
        else:
            data[name] = unknown
    table = pd.DataFrame(data, index=index, copy=False)
    check_samples(table)
    return table


def _own(values: NDArray[Any], dtype: str, taken: set[int]) -> NDArray[Any]:
    """Return values as an array of a type that shares its memory with nothing; `taken` are those handed in before."""
    if values.dtype != dtype:
        values = pd.Series(values).astype(pd.api.types.pandas_dtype(dtype)).to_numpy(copy=True)
    elif not values.flags.owndata or not values.flags.writeable or id(values) in taken:
        values = values.copy()
    taken.add(id(values))
    return values


def run_table(file: str, n: int, **columns: object) -> pd.DataFrame:
    """Build a table of `n` hand-timed runs; `columns` are those of `RUN_DTYPES` but `file`."""
    data: dict[str, Any] = {"file": pd.array([file] * n, dtype="str")}
    for name, dtype in list(RUN_DTYPES.items())[1:]:
        default = np.arange(1, n + 1) if name == "row" else np.full(n, np.nan)
        data[name] = np.array(columns.get(name, default), dtype=dtype)
    return pd.DataFrame(data, index=pd.RangeIndex(n), copy=False)


def check_samples(table: pd.DataFrame) -> None:
    """Check a sample table against the rules above.

    Raises
    ------
    LogError
        A column is missing, time runs backwards within a file, or a value is negative or beyond
        `SPEED_CEILING_MPS` / `RPM_CEILING_RPM`. The message names file, row, value and what is allowed.
    """
    present = set(table.columns)
    missing = [name for name in SAMPLE_DTYPES if name not in present]
    if missing:
        raise LogError(
            "sample table", f"column {missing[0]!r} is missing", "Give every column of gearfit.records.schema"
        )
    limits = {
        "speed_mps": SPEED_CEILING_MPS,
        "indicated_mps": SPEED_CEILING_MPS,
        "engine_rpm": RPM_CEILING_RPM,
    }
    for name, ceiling in limits.items():
        values = table[name].to_numpy()
        wrong = np.flatnonzero((values < 0) | (values > ceiling))
        if wrong.size:
            first = table.iloc[wrong[0]]
            raise LogError(
                f"{first['file']}, row {first['row']}",
                f"{name} is {first[name]:g}; allowed is 0 to {ceiling:g}",
                "Correct the value or the unit in the header",
            )
    times = table["time_s"].to_numpy()
    if (times[1:] >= times[:-1]).all():
        return
    for file, group in table.groupby("file", sort=False)[["row", "time_s"]]:
        time_s = group["time_s"].to_numpy()
        back = np.flatnonzero(np.diff(time_s) < 0)
        if back.size:
            raise LogError(
                f"{file}, row {group['row'].iloc[back[0] + 1]}",
                "time runs backwards",
                "Put the rows in the order in which they were recorded",
            )
