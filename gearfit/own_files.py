"""Which files gearfit wrote: they say so in their first bytes, or in the list that each folder of results keeps.

Only such files are replaced or removed, and none of the tables among them is read as a ride.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable
from pathlib import Path, PurePosixPath
from typing import Final, TypeAlias

from gearfit.errors import FolderError, InputError

#: Name of the list in a folder of results.
LIST: Final = ".gearfit.json"
#: Name of a file -> [the part of the results that it belongs to, SHA-256 of its content].
Own: TypeAlias = dict[str, list[str]]

_SCHEMA: Final = "gearfit-files-1"
_HEAD_BYTES: Final = 4096
_ENTRY: Final = 2
#: First columns of each table that gearfit writes.
_TABLES: Final = (
    "setup,gear,samples,passages,speed_per_1000rpm_mps",
    "file,time_s,speed_mps,engine_rpm,gear,left_out",
    "setup,file,row,time_s,speed_mps,engine_rpm,gear,left_out",
    "reference_setup,other_setup,gear,change_percent",
    "reference_setup,other_setup,from_mps,to_mps,reference_n",
    "setup,source,from_mps,to_mps,start_s,time_s",
    "setup,true_mps,indicated_mps,indicated_mps_se",
    "severity,code,text,about",
    "ride,status,bike,setup,front,rear,gears",
)
#: What else a file of gearfit holds within its first bytes.
_MARKS: Final = (b'"schema": "gearfit-results-', b'"schema": "gearfit-files-', b"urn:gearfit:ride:")
_PAGES: Final = re.compile(rb"<title>(All rides|[^<]*: (gearing report|test card, [^<]*))</title>")
#: Files that cannot say so, for which the results beside them speak: pictures only in a folder without a list.
_PICTURES: Final = ("summary.png", "summary.svg")
_RECORDS: Final = ("watch_state.js", "batch.json")


def is_own_table(head: str) -> bool:
    """Tell from its first line a table that gearfit wrote, also one that a spreadsheet has saved again."""
    line = head.lstrip("\ufeff").split("\n", 1)[0].strip()
    cells = ",".join(cell.strip().strip('"') for cell in re.split("[,;\t]", line))
    return any(cells == table or cells.startswith(f"{table},") or cells.startswith(f"{table}_") for table in _TABLES)


def list_of(folder: Path) -> Own:
    """Read the list of a folder; empty where there is none or it is damaged."""
    try:
        found = json.loads((folder / LIST).read_text("utf-8"))
        files = found["files"] if found["schema"] == _SCHEMA else {}
        return {name: entry for name, entry in files.items() if _is_sound(name, entry)}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def list_text(own: Own) -> str:
    """Return the text of the list."""
    return json.dumps({"schema": _SCHEMA, "files": dict(sorted(own.items()))}, indent=1) + "\n"


def is_own(folder: Path, name: str, own: Own) -> bool:
    """Tell whether gearfit wrote a file as it is, or whatever it says of itself."""
    path = folder / name
    if path.is_symlink() or not path.is_file():
        return False
    if name in own and own[name][1] == digest(path):
        return True
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
    if is_own_table(head.decode("utf-8", "replace")) or any(mark in head for mark in _MARKS) or _PAGES.search(head):
        return True
    silent = name in _RECORDS or (name in _PICTURES and not own)
    return silent and is_own(folder, "results.json", own)


def refuse_foreign(folder: Path, names: Iterable[str], part: str) -> None:
    """Raise where a file stands in a place that gearfit did not write, or that belongs to other results.

    Raises
    ------
    InputError
        Names that file.
    """
    own = list_of(folder)
    remedy = "Nothing was replaced. Move it away, or have gearfit write into another folder"
    for name in names:
        path = folder / name
        if name == LIST or not (path.is_symlink() or path.is_file()):
            continue
        if not is_own(folder, name, own):
            raise InputError(str(path), "a file that gearfit did not write stands in this place", remedy)
        if name in own and own[name][0] != part:
            raise InputError(str(path), f"a file of `gearfit {own[name][0]}` stands in this place", remedy)


def refuse_rides(out: Path, root: Path, setups: Iterable[str]) -> None:
    """Raise where results would lie among rides, which the next report reads.

    Parameters
    ----------
    out : pathlib.Path
        Where results are to go.
    root : pathlib.Path
        The ride folder.
    setups : iterable of str
        Names of its setups.

    Raises
    ------
    FolderError
        `out` is the ride folder, lies in the folder of a setup, or is called before or after like that of another one.
    """
    place, ride = out.resolve(), root.resolve()
    names = {name.casefold() for name in setups}
    within = place.relative_to(ride).parts if place.is_relative_to(ride) else None
    among = within is not None and (not within or within[0].casefold() in names)
    if among or place.name.casefold() in ("before", "after"):
        raise FolderError(
            str(out), "rides lie in this folder; allowed is one that holds none", "Say another folder with --out"
        )


def holds_results(folder: Path) -> bool:
    """Tell a folder into which gearfit wrote results."""
    return (folder / LIST).is_file() and not (folder / LIST).is_symlink()


def digest(path: Path) -> str:
    """Return the SHA-256 of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _is_sound(name: object, entry: object) -> bool:
    """Whether an entry names a file within the folder: a list may come from anywhere."""
    if not (isinstance(name, str) and isinstance(entry, list) and len(entry) == _ENTRY):
        return False
    path = PurePosixPath(name)
    plain = name and not path.is_absolute() and ".." not in path.parts and "\\" not in name and ":" not in name
    return bool(plain) and all(isinstance(text, str) for text in entry)
