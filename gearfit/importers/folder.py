"""The ride folder: which file belongs to which setup, and what is left aside and why."""

from __future__ import annotations

import filecmp
import os
from collections.abc import Collection, Iterable
from functools import partial
from pathlib import Path
from typing import Final, NamedTuple

from gearfit.errors import FolderError, LogError, NoRowsError, OwnTableError
from gearfit.foreign import safe_text
from gearfit.importers.common.options import ReadOptions
from gearfit.importers.copies import in_two_setups, without_copies
from gearfit.importers.formats import read_log, sheets_of
from gearfit.importers.nothing_found import REMEDY, nothing_found
from gearfit.importers.setups_in_one import read_setups
from gearfit.importers.sheet.common_steps import with_common_steps
from gearfit.machine.bike import Bike
from gearfit.machine.bike_file import read_bike
from gearfit.own_files import holds_results, refuse_rides
from gearfit.records.recording import NO_ROWS_YET, Copy, Recording, RideFolder, RideSetup

BIKE_FILE: Final = "bike.toml"
REPORT_FOLDER: Final = "report"
#: Where `gearfit open` keeps files that were removed from a setup; no report reads it.
REMOVED_FOLDER: Final = "removed"
DEFAULT_SETUPS: Final = ("before", "after")
_SEPARATORS: Final = "_ -."
_ODD: Final = "a pipe or a device; only files are read"
_LINK: Final = "a link that leads outside the folder is not followed"


def read_folder(path: str | Path, *, accept_bad_checksums: bool = False) -> RideFolder:
    """Read a ride folder.

    Parameters
    ----------
    path : str or pathlib.Path
        The folder: one sub-folder for each setup, or flat files whose names begin with the setup's name.
    accept_bad_checksums : bool
        Whether NMEA sentences with a wrong or missing checksum are used.

    Returns
    -------
    RideFolder
        The setups that hold recordings, reference first; a file left aside has its reason in `notes`.

    Raises
    ------
    FolderError
        The folder is missing, is a file, or holds no recording.
    BikeFileError
        bike.toml is wrong.
    LogError
        None of the files of a setup can be read.
    """
    root = Path(path)
    if not root.exists():
        raise FolderError(str(path), "there is no such folder", REMEDY)
    if not root.is_dir():
        raise FolderError(str(path), "this is a file; allowed is a folder with the rides", REMEDY)
    bike_path = root / BIKE_FILE
    notes: list[str] = []
    if _leads_outside(bike_path, root):
        notes.append(f"Left aside: {BIKE_FILE} ({_LINK}).")
    elif _is_odd(bike_path):
        notes.append(f"Left aside: {BIKE_FILE} ({_ODD}).")
    has_bike_file = bike_path.is_file() and not notes
    bike = read_bike(bike_path) if has_bike_file else Bike()
    names = setups_of(bike)
    options = ReadOptions.of(bike, accept_bad_checksums=accept_bad_checksums)
    together = _of_several_setups(root, options, names)
    files = _sorted_into_setups(root, names, notes, together)
    sources = {name: [source for path in files[name] for source in _sources(path, root)] for name in names}
    same_bytes = partial(_same_bytes, {source.shown: source for own in sources.values() for source in own})
    setups: list[RideSetup] = []
    copies: list[Copy] = []
    for name in names:
        shared = [parts[name] for parts in together.values() if name in parts]
        recordings, found = without_copies(
            _sound([*(_read(options, source) for source in sources[name]), *shared], notes), same_bytes
        )
        copies.extend(found)
        if recordings and all(recording.kind == "held rpm" for recording in recordings):
            notes.extend(f"Left aside: {recording.file} (no speeds yet)." for recording in recordings)
        elif recordings:
            setups.append(RideSetup(bike.setup(name), recordings))
    if not setups:
        raise nothing_found(root, str(path), notes, names, (REPORT_FOLDER, REMOVED_FOLDER))
    copies.extend(in_two_setups(setups, same_bytes))
    return RideFolder(root, bike, has_bike_file, with_common_steps(setups), tuple(notes), tuple(copies))


def setups_of(bike: Bike) -> tuple[str, ...]:
    """Return the names of the setups, reference first: those that bike.toml lists.

    Where it lists one of `before` and `after` alone, which is what differs from the machine itself, the other is the
    machine itself.
    """
    listed = tuple(setup.name for setup in bike.setups)
    return DEFAULT_SETUPS if set(listed) < set(DEFAULT_SETUPS) else listed


def report_folder(root: Path) -> Path:
    """Return where the report of a ride folder goes unless told otherwise.

    Raises
    ------
    FolderError
        That place is a link that leads outside the folder.
    """
    place = root / REPORT_FOLDER
    if _leads_outside(place, root):
        raise FolderError(
            str(place),
            "the report's folder is a link that leads outside the ride folder",
            "Remove the link, or say where to write with --out",
        )
    return place


def results_folder(root: Path, asked: Path | None, setups: Iterable[str]) -> Path:
    """Return where results go: as asked, else the folder of the report.

    Raises
    ------
    FolderError
        Rides lie in the folder that is asked for, or the report's folder leads outside the ride folder.
    """
    if asked is None:
        return report_folder(root)
    refuse_rides(asked, root, (*setups, *DEFAULT_SETUPS))
    return asked


def options_near(path: Path, *, accept_bad_checksums: bool = False) -> ReadOptions:
    """Return the options for one file on its own, with the bike.toml beside it or one folder above, if there is one."""
    for folder in path.absolute().parents[:2]:
        if (folder / BIKE_FILE).is_file():
            return ReadOptions.of(read_bike(folder / BIKE_FILE), accept_bad_checksums=accept_bad_checksums)
    return ReadOptions(accept_bad_checksums)


def _of_several_setups(
    root: Path, options: ReadOptions, names: tuple[str, ...]
) -> dict[Path, dict[str, Recording | LogError]]:
    """Read the files beside the setups' folders that hold readings of several setups."""
    found = {}
    for entry in _entries(root):
        if entry.is_file() and entry.name != BIKE_FILE and not _is_ignored(entry) and not _leads_outside(entry, root):
            found[entry] = read_setups(entry, _shown(entry, root), options, names)
    return {path: parts for path, parts in found.items() if parts}


def _sorted_into_setups(
    root: Path, names: tuple[str, ...], notes: list[str], together: Collection[Path]
) -> dict[str, list[Path]]:
    files: dict[str, list[Path]] = {name: [] for name in names}
    for entry in _entries(root):
        if (
            entry in together
            or _is_ignored(entry)
            or (entry.name == BIKE_FILE)
            or (entry.name in (REPORT_FOLDER, REMOVED_FOLDER) and entry.is_dir())
        ):
            continue
        setup = _setup_of(entry, names)
        if setup is None and entry.is_dir() and holds_results(entry):
            continue  # of gearfit's own, as the report's folder
        if setup is None:
            notes.append(
                f"Left aside: {_shown(entry, root)} (its name begins with no setup; the setups are {', '.join(names)})."
            )
        elif _leads_outside(entry, root):
            notes.append(f"Left aside: {_shown(entry, root)} ({_LINK}).")
        elif _is_odd(entry):
            notes.append(f"Left aside: {_shown(entry, root)} ({_ODD}).")
        elif entry.is_dir():
            files[setup].extend(_files_in(entry, root, notes))
        else:
            files[setup].append(entry)
    return {name: sorted(paths, key=lambda item: item.relative_to(root).as_posix()) for name, paths in files.items()}


def _files_in(folder: Path, root: Path, notes: list[str]) -> list[Path]:
    found = []
    for entry in _entries(folder):
        shown = _shown(entry, root)
        if _is_ignored(entry):
            continue
        if _leads_outside(entry, root):
            notes.append(f"Left aside: {shown} ({_LINK}).")
        elif _is_odd(entry):
            notes.append(f"Left aside: {shown} ({_ODD}).")
        elif entry.is_dir():
            notes.append(f"Left aside: {shown} (not a file; put the rides straight into {folder.name}).")
        else:
            found.append(entry)
    return found


def _entries(folder: Path) -> list[Path]:
    try:
        return sorted(folder.iterdir())
    except OSError as error:
        raise FolderError(
            str(folder), f"the folder cannot be read ({error.strerror or error})", "Check its permissions"
        ) from error


def _is_odd(entry: Path) -> bool:
    """Whether something is there that is neither file nor folder."""
    return entry.exists() and not entry.is_file() and not entry.is_dir()


def _shown(entry: Path, root: Path) -> str:
    """Write where a file lies in the ride folder."""
    return safe_text(entry.relative_to(root).as_posix())


def _is_ignored(entry: Path) -> bool:
    return entry.name.startswith(".") or entry.suffix.lower() == ".md"


def _leads_outside(entry: Path, root: Path) -> bool:
    return entry.is_symlink() and not Path(os.path.realpath(entry)).is_relative_to(os.path.realpath(root))


def _setup_of(entry: Path, names: tuple[str, ...]) -> str | None:
    """Return the setup whose name is the sub-folder's name, or the first word of the file's."""
    own = entry.name.casefold()
    for name in sorted(names, key=len, reverse=True):
        setup = name.casefold()
        if own == setup or (not entry.is_dir() and own.startswith(tuple(setup + mark for mark in _SEPARATORS))):
            return name
    return None


class _Source(NamedTuple):
    """A file of the folder, or one worksheet of it, and how it is called."""

    path: Path
    worksheet: str
    shown: str


def _sources(path: Path, root: Path) -> list[_Source]:
    """Return what is read from a file: each worksheet of a spreadsheet that holds anything, else the file itself."""
    shown = _shown(path, root)
    try:
        sheets = sheets_of(path)
    except LogError:  # whoever reads the file says what is wrong with it
        sheets = [""]
    return [_Source(path, sheet, f"{shown}, {sheet}" if len(sheets) > 1 else shown) for sheet in sheets]


def _read(options: ReadOptions, source: _Source) -> Recording | LogError:
    """Read a file; return what is wrong with it where it cannot be read."""
    try:
        return read_log(source.path, source.shown, options, source.worksheet)
    except LogError as error:
        return error


def _same_bytes(sources: dict[str, _Source], one: str, other: str) -> bool:
    """Whether two files of the folder are the same byte for byte."""
    if one not in sources or other not in sources or sources[one].worksheet != sources[other].worksheet:
        return False
    return filecmp.cmp(sources[one].path, sources[other].path, shallow=False)


def _sound(files: list[Recording | LogError], notes: list[str]) -> tuple[Recording, ...]:
    """Return the recordings of one setup; raise the first error where it leaves nothing at all."""
    errors = [
        file for file in files if isinstance(file, LogError) and not isinstance(file, NoRowsError | OwnTableError)
    ]
    recordings = tuple(file for file in files if isinstance(file, Recording))
    if errors and not recordings:
        raise errors[0]
    notes.extend(f"Left aside: {file.where} ({NO_ROWS_YET})." for file in files if isinstance(file, NoRowsError))
    notes.extend(f"Left aside: {file.where} ({file.problem})." for file in files if isinstance(file, OwnTableError))
    notes.extend(f"Left aside: {error}" for error in errors)
    return recordings
