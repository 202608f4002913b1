"""The table over all rides: summary.csv, summary.parquet where asked for, and index.html."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from importlib import resources
from pathlib import Path
from typing import Final

from gearfit.batch.rows import COLUMNS, Cell, Row
from gearfit.report.files.tables import safe_cell
from gearfit.version import __version__
from gearfit.whole_files import write_together

_DECIMALS: Final = {"circumference": 3, "change": 2, "predicted": 2, "speedometer": 3}


def write_summary(rows: Sequence[Row], place: Path, links: Mapping[str, str], *, parquet: bool) -> list[Path]:
    """Write the table in each form; the page comes last. `links` lead from a ride's name to its report."""
    import pandas as pd

    def make(workshop: Path) -> list[str]:
        table = pd.DataFrame(rows, columns=list(COLUMNS)).convert_dtypes()
        names = ["summary.csv", "index.html"]
        safe = pd.DataFrame([{k: _safe(v) for k, v in row.items()} for row in rows], columns=list(COLUMNS))
        safe.convert_dtypes().to_csv(workshop / "summary.csv", index=False, encoding="utf-8", lineterminator="\n")
        if parquet:
            table.to_parquet(workshop / "summary.parquet", engine="pyarrow", index=False)
            names.insert(1, "summary.parquet")
        (workshop / "index.html").write_text(page_text(rows, links), encoding="utf-8", newline="\n")
        return names

    return write_together(place, make, part="batch")


def page_text(rows: Sequence[Row], links: Mapping[str, str]) -> str:
    """Return index.html: a row links to its report; headings sort where scripts run."""
    import jinja2

    folder = resources.files("gearfit.batch")
    script = folder.joinpath("sort.js").read_text(encoding="utf-8")
    environment = jinja2.Environment(
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined
    )
    template = environment.from_string(folder.joinpath("index.html.j2").read_text(encoding="utf-8"))
    return template.render(
        heads=list(COLUMNS.values()),
        rows=[(_link(row, links), [(shown(name, row[name]), row[name]) for name in COLUMNS]) for row in rows],
        rides=len({row["ride"] for row in rows}),
        failed=len({row["ride"] for row in rows if row["status"] == "failed"}),
        script=script,
        script_hash="sha256-" + base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        version=__version__,
    )


def _link(row: Row, links: Mapping[str, str]) -> str:
    return "" if row["status"] == "failed" else links[str(row["ride"])]


def shown(name: str, cell: Cell) -> str:
    """Write a cell for people."""
    if cell is None:
        return "–"
    if isinstance(cell, float):
        return f"{cell:.{_DECIMALS.get(name.split('_')[0], 2)}f}".replace("-", "\N{MINUS SIGN}")
    return str(cell)


def _safe(cell: Cell) -> Cell:
    return safe_cell(cell) if isinstance(cell, str) else cell
