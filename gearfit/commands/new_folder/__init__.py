"""Makes a ride folder that is ready to fill: bike.toml, a folder and empty sheets for each setup, how to ride."""

from __future__ import annotations

from functools import partial
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
    "readings.xlsx": "readings.xlsx",
}
#: Unit of speed -> what stands for it in the headers of the sheets.
_TEMPLATES: Final[dict[str, str]] = {"kmh": "readings.xlsx", "mph": "readings_mph.xlsx"}


def make_folder(path: str | Path, unit: str = "kmh", bike: str | None = None) -> list[Path]:
    """Make a ride folder in which nothing is ridden yet.

    Parameters
    ----------
    path : str or pathlib.Path
        The folder; made where it does not exist, else added to.
    unit : {"kmh", "mph"}
        Of the speeds in the sheets.
    bike : str, optional
        Text of bike.toml; one that states nothing where not given.

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
        return write_together(folder, partial(_fill, unit=unit, bike=bike))
    except OSError as error:
        raise FolderError(
            str(path), f"cannot be written to ({error.strerror})", "Check the path and its permissions"
        ) from error


def template(name: str) -> bytes:
    """Return a template."""
    return files(__name__).joinpath(name).read_bytes()


def _fill(workshop: Path, unit: str, bike: str | None) -> list[str]:
    for place, name in LAYOUT.items():
        (workshop / place).parent.mkdir(exist_ok=True)
        data = template(_TEMPLATES[unit] if place == "readings.xlsx" else name)
        if place.endswith(".csv"):
            data = data.replace(b"kmh", unit.encode())
        elif place == "bike.toml" and bike is not None:
            data = bike.encode()
        (workshop / place).write_bytes(data)
    return list(LAYOUT)
