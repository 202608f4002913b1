"""Options of `gearfit export`, `gearfit watch` and `gearfit batch`; what the commands do is loaded when they run."""

from __future__ import annotations

import argparse
import signal
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Final, TypeAlias

from gearfit.commands.common import ELSE_AS_SHEETS, add_no_positions, add_regulation, add_units
from gearfit.errors import InputError
from gearfit.wording.terminal import one_line

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"
FORMS: Final = ("csv", "parquet", "gpx")


def add_export(commands: Commands) -> None:
    """Add `gearfit export`."""
    parser = commands.add_parser(
        "export",
        help="write the results for other programs: tables and tracks",
        description="Write every table of the results, one file a table (CSV or Parquet), and the tracks with gear of "
        "each point and marks for gears and runs (GPX). Tracks say where you rode: look before you share.",
        epilog="Example: gearfit export my-bike --as csv gpx",
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the ride folder")
    parser.add_argument("--as", dest="forms", choices=FORMS, nargs="+", default=["csv"], help="default: csv")
    parser.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        help="where to write (default: FOLDER/report/export, tracks FOLDER/tracks)",
    )
    add_units(parser, "of speed in texts", ELSE_AS_SHEETS)
    add_regulation(parser)
    parser.set_defaults(run=_export)


def add_watch(commands: Commands) -> None:
    """Add `gearfit watch`."""
    parser = commands.add_parser(
        "watch",
        help="report anew whenever a file of the folder changes",
        description="Watch a ride folder: once files that are being copied are complete, the report is written, and "
        "the open page report/watch.html loads itself anew. A file that cannot be read ends nothing; its message "
        "stands in the page. Ctrl-C ends the watch.",
        epilog="Example: gearfit watch my-bike",
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the ride folder")
    parser.add_argument("--out", metavar="DIR", type=Path, help="where to write (default: FOLDER/report)")
    add_no_positions(parser)
    add_units(parser, "of speed in texts", ELSE_AS_SHEETS)
    add_regulation(parser)
    parser.set_defaults(run=_watch)


def _watch(arguments: argparse.Namespace) -> int:
    from gearfit.commands.watch.page import PAGE
    from gearfit.commands.watch.run import Watch
    from gearfit.findings.analysis import analyse
    from gearfit.importers import read_folder, results_folder
    from gearfit.report import write_report

    out = results_folder(arguments.folder, arguments.out, ())

    def report() -> None:
        analysis = analyse(read_folder(arguments.folder), arguments.units, arguments.regulation)
        write_report(analysis, out, positions=arguments.positions)

    watch = Watch(arguments.folder, out, report, lambda line: print(line, flush=True))
    signal.signal(signal.SIGTERM, lambda *_: watch.stop())
    print(f"Open {out / PAGE} in a browser; Ctrl-C ends the watch.", flush=True)
    try:
        watch.run()
    except KeyboardInterrupt:
        print("The watch has ended.")
    return 0


def add_batch(commands: Commands) -> None:
    """Add `gearfit batch`."""
    parser = commands.add_parser(
        "batch",
        help="report every ride folder below a folder, and one table over all of them",
        description="Report every ride folder below ROOT on all cores, and write index.html and summary.csv over "
        "all of them into ROOT. A folder that has not changed since the last run is not done again; one that fails "
        "stops none of the others. Exit code 1 where one has failed.",
        epilog="Example: gearfit batch workshop --jobs 4",
    )
    parser.add_argument("root", metavar="ROOT", type=Path, help="the folder above the ride folders")
    parser.add_argument("--jobs", metavar="N", type=int, default=-1, help="processes (default: one a core)")
    parser.add_argument("--scheduler", metavar="ADDRESS", help="hand the work to the Dask cluster of this scheduler")
    parser.add_argument("--parquet", action="store_true", help="write summary.parquet as well")
    add_no_positions(parser)
    parser.add_argument("--quiet", action="store_true", help="print nothing but errors")
    add_units(parser, "of speed in texts", ELSE_AS_SHEETS)
    add_regulation(parser)
    parser.set_defaults(run=_batch)


def _batch(arguments: argparse.Namespace) -> int:
    from gearfit.batch.command import batch

    return batch(arguments)


def _export(arguments: argparse.Namespace) -> int:
    from gearfit.findings.analysis import analyse
    from gearfit.importers import read_folder, results_folder
    from gearfit.report.files.export_tables import require_parquet, write_csv, write_parquet
    from gearfit.report.files.track import has_positions, write_tracks
    from gearfit.whole_files import write_together

    if "parquet" in arguments.forms:
        require_parquet()
    folder = read_folder(arguments.folder)
    place = results_folder(arguments.folder, arguments.out, (ride.setup.name for ride in folder.setups))
    tables = place if arguments.out else place / "export"
    tracks = place if arguments.out else arguments.folder / "tracks"
    if arguments.forms == ["gpx"] and not any(has_positions(r) for ride in folder.setups for r in ride.recordings):
        raise InputError(
            str(arguments.folder),
            "no file holds positions with date and time",
            "Add a GPX or NMEA track, or export csv",
        )
    analysis = analyse(folder, arguments.units, arguments.regulation)

    ways: dict[str, tuple[Path, Callable[[Path], list[str]]]] = {
        "csv": (tables, partial(write_csv, analysis)),
        "parquet": (tables, partial(write_parquet, analysis)),
        "gpx": (tracks, partial(write_tracks, analysis, folder)),
    }
    written: list[Path] = []
    for form in (form for form in FORMS if form in arguments.forms):
        place, make = ways[form]
        try:
            written += write_together(place, make, part=f"export --as {form}")
        except OSError as error:
            raise InputError(
                str(place), f"cannot be written to ({error.strerror or error})", "Free the place, or give --out"
            ) from error
    for path in written:
        print(one_line(f"wrote {path}"))
    return 0
