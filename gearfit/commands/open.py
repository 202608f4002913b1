"""`gearfit open`: which folder the pages work on, asked for once and remembered."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Final

from gearfit.errors import FolderError, InputError

_USUAL: Final = "gearfit-bikes"


def run(arguments: argparse.Namespace) -> int:
    """Serve the pages until the last one is closed."""
    from gearfit.local_page.remembered import remember
    from gearfit.local_page.serve import serve

    folder = arguments.folder or _remembered() or _asked()
    if folder.exists() and not folder.is_dir():
        raise FolderError(str(folder), "found a file; allowed is a folder", "Give the folder that holds the bikes")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FolderError(str(folder), f"cannot be made ({error.strerror})", "Choose another place") from None
    if arguments.folder is None:
        remember(folder=str(folder.resolve()))
    serve(folder, window=arguments.window)
    return 0


def _remembered() -> Path | None:
    from gearfit.local_page.remembered import remembered

    folder = Path(remembered().get("folder", ""))
    return folder if folder.is_absolute() and folder.is_dir() else None


def _asked() -> Path:
    usual = Path.home() / _USUAL
    if not sys.stdin.isatty():
        raise InputError("FOLDER", "no folder is given and none is remembered", f"Give one: gearfit open {usual}")
    written = input(f"Folder for your bikes [{usual}]: ").strip()
    return Path(written).expanduser() if written else usual
