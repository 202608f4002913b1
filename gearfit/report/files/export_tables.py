"""The tables of an analysis as CSV or Parquet, one file a table."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Final

from gearfit.errors import InputError
from gearfit.records.results import Analysis
from gearfit.report.files.tables import safe_cell

if TYPE_CHECKING:
    import pandas as pd

#: Name of a table -> what makes it.
TABLES: Final[dict[str, Callable[[Analysis], pd.DataFrame]]] = {
    "gears": Analysis.gears_frame,
    "changes": Analysis.changes_frame,
    "runs": Analysis.runs_frame,
    "shifts": Analysis.shifts_frame,
    "left_out_runs": Analysis.left_out_runs_frame,
    "spans": Analysis.spans_frame,
    "speedometer": Analysis.speedometer_frame,
    "findings": Analysis.findings_frame,
    "samples": Analysis.samples_frame,
}


def write_csv(analysis: Analysis, folder: Path) -> list[str]:
    """Write every table as CSV (UTF-8, comma, decimal point, full precision); return the names of the files."""
    for name, make in TABLES.items():
        table = make(analysis)
        for column in table.columns:
            if table[column].dtype in ("str", "object"):
                table[column] = table[column].map(safe_text)
        table.to_csv(folder / f"{name}.csv", index=False, encoding="utf-8", lineterminator="\n")
    return [f"{name}.csv" for name in TABLES]


def safe_text(cell: object) -> object:
    """Keep a text from being run as a formula by a spreadsheet; other cells stay."""
    return safe_cell(cell) if isinstance(cell, str) else cell


def write_parquet(analysis: Analysis, folder: Path) -> list[str]:
    """Write every table as Parquet; return the names of the files.

    Raises
    ------
    InputError
        The library for it is not installed.
    """
    require_parquet()
    for name, make in TABLES.items():
        make(analysis).to_parquet(folder / f"{name}.parquet", engine="pyarrow", index=False)
    return [f"{name}.parquet" for name in TABLES]


def require_parquet() -> None:
    """Raise `InputError` where pyarrow, which writes Parquet, is not installed."""
    from importlib.util import find_spec

    if find_spec("pyarrow") is None:
        raise InputError("Parquet", "the library pyarrow is not installed", "Run: pip install 'gearfit[parquet]'")
