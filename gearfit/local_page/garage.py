"""The bikes: ride folders in one folder, or that one alone."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from gearfit.batch.find import ride_folders
from gearfit.commands.new_folder import make_folder
from gearfit.errors import FolderError, GearfitError, InputError
from gearfit.foreign import safe_text
from gearfit.importers.folder import BIKE_FILE, DEFAULT_SETUPS, REPORT_FOLDER
from gearfit.machine.bike import Bike
from gearfit.machine.bike_file import read_bike
from gearfit.machine.bike_rules import setup_name

#: A folder name for what a person calls a bike.
_NOT_IN_NAMES: Final = re.compile(r"[^\w .+-]+")
_LONGEST: Final = 60
_ALONE: Final = "this"


@dataclass(frozen=True)
class Listed:
    """One bike of the list: its place in addresses, what it is called, its setups and its last answer."""

    place: str
    name: str
    setups: tuple[str, ...]
    answer: str


class Garage:
    """The folder that the pages work on.

    Parameters
    ----------
    root : pathlib.Path
        A ride folder, or a folder of them.
    """

    def __init__(self, root: Path) -> None:
        self.root = root.resolve()

    def folders(self) -> dict[str, Path]:
        """Return the ride folders by their place in addresses; whatever else an address names does not exist."""
        found = ride_folders(self.root)
        if found == [self.root]:
            return {_ALONE: self.root}
        return {folder.relative_to(self.root).as_posix().replace("/", ":"): folder for folder in found}

    def listed(self) -> list[Listed]:
        """Return what the list shows."""
        return [
            Listed(place, bike_name(folder), setups_of(folder), last_answer(folder))
            for place, folder in self.folders().items()
        ]

    def make(self, name: str) -> str:
        """Make a bike and return its place.

        Raises
        ------
        FolderError
            There is a folder of that name, or none can be made.
        InputError
            The name holds nothing that a folder can be called by.
        """
        folder_name = " ".join(_NOT_IN_NAMES.sub(" ", name).split()).strip(" .")[:_LONGEST].strip(" .")
        try:
            setup_name(folder_name)
        except ValueError:
            raise InputError(
                "the name", f"found “{safe_text(name)}”; allowed are names with letters or digits", "Choose another one"
            ) from None
        if self.root in self.folders().values():
            raise FolderError(safe_text(str(self.root)), "this is one bike's folder", "Open the folder above it")
        make_folder(self.root / folder_name)
        return folder_name


def bike_of(folder: Path) -> Bike | None:
    """Return the machine as stated; None where its file is missing or at fault."""
    try:
        return read_bike(folder / BIKE_FILE)
    except GearfitError:
        return None


def bike_name(folder: Path) -> str:
    """Return what a bike is called: by its file, else by its folder."""
    bike = bike_of(folder)
    return (bike.name if bike is not None else "") or safe_text(folder.name)


def setups_of(folder: Path) -> tuple[str, ...]:
    """Return the names of the setups: those of bike.toml, else before and after."""
    bike = bike_of(folder)
    names = tuple(setup.name for setup in bike.setups) if bike is not None else ()
    return names if len(names) > 1 else tuple(dict.fromkeys((*names, *DEFAULT_SETUPS)))[:2]


def last_answer(folder: Path) -> str:
    """Return the first sentence of the last report; "" where there is none."""
    try:
        found = json.loads((folder / REPORT_FOLDER / "results.json").read_text("utf-8"))["findings"][0]["text"]
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return ""
    return found if isinstance(found, str) else ""
