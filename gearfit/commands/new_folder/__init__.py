"""Makes a ride folder that is ready to fill: bike.toml, a folder and empty sheets for each setup, how to ride."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Final

from gearfit.errors import FolderError
from gearfit.whole_files import write_together

#: Place in the ride folder -> template beside this module.
LAYOUT: Final[dict[str, str]] = {
    "before/holds.csv": "holds.csv",
    "before/timed.csv": "timed.csv",
    "after/holds.csv": "holds.csv",
    "after/timed.csv": "timed.csv",
    "bike.toml": "bike.toml",
    "HOW-TO-RIDE.md": "HOW-TO-RIDE.md",
}


def make_folder(path: str | Path) -> list[Path]:
    """Make a ride folder in which nothing is stated yet.

    Parameters
    ----------
    path : str or pathlib.Path
        The folder; made where it does not exist, else added to.

    Returns
    -------
    list of pathlib.Path
        The files written.

    Raises
    ------
    FolderError
        A file that would be written exists already (then nothing is written), or the folder cannot be written to.
    """
    folder = Path(path)
    if folder.exists() and not folder.is_dir():
        raise FolderError(str(path), "found a file; allowed is a new or an empty folder", "Choose another name")
    for place in LAYOUT:
        if (folder / place).exists():
            raise FolderError(
                str(path),
                f"found {place} there already; allowed is a folder without it",
                "Nothing was written. Choose another name, or move the old files away",
            )
    try:
        return write_together(folder, _fill)
    except OSError as error:
        raise FolderError(
            str(path), f"cannot be written to ({error.strerror})", "Check the path and its permissions"
        ) from error


def _fill(workshop: Path) -> list[str]:
    for place, template in LAYOUT.items():
        (workshop / place).parent.mkdir(exist_ok=True)
        (workshop / place).write_bytes(files(__name__).joinpath(template).read_bytes())
    return list(LAYOUT)
