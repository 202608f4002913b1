"""Write the whole report into a folder: all files, or none."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

from gearfit.errors import InputError
from gearfit.records.results import Analysis
from gearfit.report.files.privacy import without_positions
from gearfit.whole_files import write_together

#: Files of other commands that show where it was ridden, in the folder of a report.
PLACES: Final = ("track_*.gpx", "export/track_*.gpx", "watch.html", "watch_state.js")
#: Shapes of the summary picture.
SHAPES: Final = ("wide", "square")


def write_report(
    analysis: Analysis,
    out: str | Path,
    *,
    progress: Callable[[str], None] | None = None,
    shape: str = "wide",
    positions: bool = True,
) -> dict[str, Path]:
    """Write report.html, summary.png, summary.svg, results.json, gears.csv and samples_<setup>.csv.

    All files are finished under temporary names before the first one takes its place, the page last, so that an older
    report stays whole if anything fails. The same analysis gives the same bytes.

    Parameters
    ----------
    analysis : Analysis
        What was found out; nothing is computed here.
    out : str or Path
        Folder to write into; made if missing.
    progress : callable, optional
        Called with a short label before each step.
    shape : {"wide", "square"}
        Of the summary picture: 1920 x 1080 or 1080 x 1080 pixels.
    positions : bool
        Whether the report may show where it was ridden. If not, tracks and pages that gearfit wrote into the folder
        earlier are removed as well.

    Returns
    -------
    dict of str to Path
        Path of each file by its name.

    Raises
    ------
    InputError
        The folder cannot be made or written to.
    ValueError
        `shape` is neither of these.
    """
    if shape not in SHAPES:
        raise ValueError(f"shape is {shape!r}; allowed are {' and '.join(map(repr, SHAPES))}")
    if not positions:
        analysis = without_positions(analysis)
    folder = Path(out)
    names: list[str] = []

    def make(workshop: Path) -> list[str]:
        names.extend(_write_all(analysis, workshop, progress or _silent, shape))
        return names[::-1]

    try:
        write_together(folder, make, part="report", without=() if positions else PLACES)
    except OSError as error:
        problem = f"the report cannot be written ({error.strerror or error})"
        raise InputError(str(folder), problem, "Free the place, or say where to write with --out") from error
    return {name: folder / name for name in names}


def _silent(label: str) -> None:
    """Show no progress."""


def _write_all(analysis: Analysis, workshop: Path, progress: Callable[[str], None], shape: str) -> list[str]:
    """Write every file into the empty folder `workshop`; return their names."""
    # matplotlib and jinja2 take most of a second to import: only where a report is really written.
    from gearfit.report.files import parts, results_json, tables
    from gearfit.report.page import page

    progress("tables")
    sample_names = tables.sample_file_names([result.setup.name for result in analysis.setups])
    tables.write_gears(analysis, workshop / "gears.csv")
    (workshop / "results.json").write_text(results_json.results_text(analysis), encoding="utf-8", newline="\n")
    drawn = []
    for step in parts.parts_of(sample_names, shape):
        progress(step.label)
        part = step.make(analysis)
        for name, content in part.files.items():
            (workshop / name).write_bytes(content)
        if part.figure is not None:
            drawn.append(part.figure)
    progress("page")
    text = page.page_text(analysis, drawn, ["summary.png", "summary.svg", "results.json", "gears.csv", *sample_names])
    (workshop / "report.html").write_text(text, encoding="utf-8", newline="\n")
    return ["report.html", "summary.png", "summary.svg", "results.json", "gears.csv", *sample_names]
