"""What `gearfit batch` does, with its progress bar."""

from __future__ import annotations

import argparse
import os
import sys
from importlib.util import find_spec
from pathlib import Path
from urllib.parse import quote

from tqdm import tqdm

from gearfit.batch.find import ride_folders
from gearfit.batch.rows import Row
from gearfit.batch.run import run_here, run_on_cluster
from gearfit.batch.summary import write_summary
from gearfit.batch.work import Done, Task
from gearfit.errors import FolderError, InputError
from gearfit.foreign import safe_text
from gearfit.importers.folder import REPORT_FOLDER
from gearfit.own_files import refuse_foreign
from gearfit.records.words import count
from gearfit.report.files.export_tables import require_parquet
from gearfit.wording.terminal import one_line


def batch(arguments: argparse.Namespace) -> int:
    """Report every folder and write the table; 1 where a folder has failed."""
    root: Path = arguments.root
    tasks = _tasks(arguments)
    if arguments.parquet:
        require_parquet()
    if arguments.scheduler is not None and find_spec("distributed") is None:
        raise InputError(
            "--scheduler", "the library distributed is not installed", "Run: pip install 'gearfit[cluster]'"
        )
    if arguments.jobs == 0 or arguments.jobs < -1:
        raise InputError("--jobs", f"found {arguments.jobs}; allowed is 1 or more", "Correct it or leave it out")
    refuse_foreign(root, ("summary.csv", "index.html", *(("summary.parquet",) * arguments.parquet)), "batch")
    results = (
        run_here(tasks, arguments.jobs) if arguments.scheduler is None else run_on_cluster(tasks, arguments.scheduler)
    )
    found: dict[int, Done] = {}
    with tqdm(total=len(tasks), disable=arguments.quiet or None, leave=False, unit="ride") as bar:
        for place, done in results:
            found[place] = done
            bar.update()
    rows: list[Row] = [row for place in sorted(found) for row in found[place].rows]
    try:
        written = write_summary(rows, root, _links(root, tasks), parquet=arguments.parquet)
    except OSError as error:
        raise InputError(
            str(root), f"the table cannot be written ({error.strerror or error})", "Free the place"
        ) from error
    failed = [row for row in rows if row["status"] == "failed"]
    for row in failed:
        print(one_line(f"gearfit: {row['ride']}: {row['message']}"), file=sys.stderr)
    if not arguments.quiet:
        unchanged = sum(done.unchanged for done in found.values())
        print(
            f"{count(len(tasks), 'ride folder')}: {len(tasks) - unchanged - len(failed)} reported, "
            f"{unchanged} unchanged, {len(failed)} failed"
        )
        print(f"Table: {written[-1]}")
    return 1 if failed else 0


def _tasks(arguments: argparse.Namespace) -> list[Task]:
    root: Path = arguments.root
    if not root.is_dir():
        raise FolderError(str(root), "there is no such folder", "Name the folder above the ride folders")
    folders = ride_folders(root)
    if not folders:
        raise FolderError(
            str(root), "found no ride folder below it", "A ride folder holds bike.toml, or before and after"
        )
    return [
        Task(
            str(folder.resolve()),
            safe_text(folder.relative_to(root).as_posix()),
            arguments.units,
            arguments.regulation,
            arguments.positions,
        )
        for folder in folders
    ]


def _links(root: Path, tasks: list[Task]) -> dict[str, str]:
    """Return where the report of each ride lies from the root, byte by byte as the system has the names."""
    places = {task.ride: Path(task.folder).relative_to(root.resolve()) / REPORT_FOLDER for task in tasks}
    return {ride: quote(os.fsencode(f"./{place.as_posix()}/report.html")) for ride, place in places.items()}
