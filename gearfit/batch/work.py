"""One ride folder, in whatever process: report it unless it is unchanged, and say what came out."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from gearfit.analysis import analyse
from gearfit.batch.find import content_hash
from gearfit.batch.rows import Row, failed, rows_of
from gearfit.errors import GearfitError
from gearfit.importers import read_folder, report_folder
from gearfit.report import write_report
from gearfit.whole_files import write_whole

#: What is kept beside a report so that an unchanged folder is known again.
RECORD: Final = "batch.json"


@dataclass(frozen=True)
class Task:
    """One folder, its name in the table, and what is asked."""

    folder: str
    ride: str
    units: str
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
    digest = content_hash(folder, task.units, str(task.regulation), str(task.positions))
    known = _known(place, digest)
    if known is not None:
        return Done([{**row, "ride": task.ride} for row in known], unchanged=True)
    analysis = analyse(read_folder(folder), task.units, task.regulation)
    write_report(analysis, place, positions=task.positions)
    rows = rows_of(task.ride, analysis)
    write_whole(place / RECORD, json.dumps({"content": digest, "rows": rows}, indent=1) + "\n")
    return Done(rows, unchanged=False)


def _known(place: Path, digest: str) -> list[Row] | None:
    """Return the rows of an earlier run over the same content whose report is still there."""
    try:
        record = json.loads((place / RECORD).read_text("utf-8"))
    except (OSError, ValueError):
        return None
    if not isinstance(record, dict) or record.get("content") != digest or not (place / "report.html").is_file():
        return None
    rows: list[Row] = record["rows"]
    return rows
