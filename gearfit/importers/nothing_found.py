"""What to say of a ride folder in which no ride is found."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Final

from gearfit.errors import FolderError
from gearfit.foreign import safe_text

REMEDY: Final = (
    "Put the rides into the sub-folders before and after, or begin their names with these words; "
    "`gearfit new FOLDER` makes a folder to fill"
)


def nothing_found(
    root: Path, shown: str, notes: Sequence[str], setups: Collection[str], own: Collection[str]
) -> FolderError:
    """Return the error; where no folder is that of a setup, others that hold files are offered as setups.

    Parameters
    ----------
    root : pathlib.Path
        The folder.
    shown : str
        Its name for the message.
    notes : sequence of str
        What was left aside, with the reasons.
    setups : collection of str
        Names of the setups.
    own : collection of str
        Names of folders that are never setups.
    """
    inside = sorted(entry for entry in root.iterdir() if entry.is_dir() and entry.name not in own)
    filled = [entry.name for entry in inside if not entry.name.startswith(".") and any(entry.iterdir())]
    known = {name.casefold() for name in setups}
    if len(filled) > 1 and not any(entry.name.casefold() in known for entry in inside):
        names = " and ".join(f"“{safe_text(name)}”" for name in filled[:3])
        tables = " ".join(f"[setups.{_key(name)}]" for name in filled[:3])
        return FolderError(
            shown,
            f"there are no folders before and after, but {names}",
            f"Rename them, or write into bike.toml, in the order in which they were ridden, a line each: {tables}",
        )
    left = ""
    if notes:
        first = notes[0].removeprefix("Left aside: ").removesuffix(".")
        left = f"; left aside: {first}" + (f", and {len(notes) - 1} more" if len(notes) > 1 else "")
    return FolderError(shown, f"the folder holds no recording{left}", REMEDY)


def _key(name: str) -> str:
    bare = name.isascii() and name.replace("-", "").replace("_", "").isalnum()
    return name if bare else f'"{safe_text(name)}"'
