"""One ride folder, in whatever process: report it unless it is unchanged, and say what came out."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from gearfit.batch.find import content_hash
from gearfit.batch.rows import COLUMNS, Row, failed, rows_of
from gearfit.errors import GearfitError
from gearfit.findings.analysis import analyse
from gearfit.importers import read_folder, report_folder
from gearfit.own_files import digest as file_digest
from gearfit.report import write_report
from gearfit.report.files.write import PLACES
from gearfit.whole_files import write_own

#: What is kept beside a report so that an unchanged folder is known again.
RECORD: Final = "batch.json"


@dataclass(frozen=True)
class Task:
    """One folder, its name in the table, and what is asked."""

    folder: str
    ride: str
    units: str | None
    regulation: str | None
    positions: bool = True


@dataclass(frozen=True)
class Done:
    """Rows of one folder; `unchanged` where an earlier run had made them."""

    rows: list[Row]
    unchanged: bool


def work(task: Task) -> Done:
    """Report one folder. Whatever goes wrong, also a fault of gearfit itself, becomes the message of its row."""
    with ThreadPoolExecutor(1) as alone:
        outcome = alone.submit(_report, task)
        error = outcome.exception()
    if error is None:
        return outcome.result()
    kind = "" if isinstance(error, GearfitError | OSError) else f"a fault of gearfit, {type(error).__name__}: "
    return Done([failed(task.ride, f"{kind}{error}")], unchanged=False)


def _report(task: Task) -> Done:
    folder = Path(task.folder)
    place = report_folder(folder)
    digest = content_hash(folder, str(task.units), str(task.regulation), str(task.positions))
    known = _known(task, place, digest)
    if known is not None:
        return Done([{**row, "ride": task.ride} for row in known], unchanged=True)
    analysis = analyse(read_folder(folder), task.units, task.regulation)
    written = write_report(analysis, place, positions=task.positions)
    rows = rows_of(task.ride, analysis)
    files = {name: file_digest(path) for name, path in written.items()}
    record = {"schema": "gearfit-files-1", "content": digest, "files": files, "rows": rows}
    write_own(place / RECORD, json.dumps(record, indent=1) + "\n", "batch")
    return Done(rows, unchanged=False)


def _known(task: Task, place: Path, digest: str) -> list[Row] | None:
    """Return the rows of an earlier run over the same content whose files are all still there as they were written."""
    try:
        record = json.loads((place / RECORD).read_text("utf-8"))
        same = record["content"] == digest and bool(record["files"])
        same = same and all(file_digest(place / name) == made for name, made in record["files"].items())
        rows: list[Row] = record["rows"]
        same = same and bool(rows) and all(set(row) == set(COLUMNS) for row in rows)
        plain = all(isinstance(cell, str | int | float | None) for row in rows for cell in row.values())
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):  # damaged, by whatever
        return None
    if not task.positions and any(True for pattern in PLACES for _ in place.glob(pattern)):
        return None
    return rows if same and plain else None
