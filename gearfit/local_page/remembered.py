"""What is asked once and remembered: the folder with the bikes, and the unit of speed."""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path
from typing import Final

from platformdirs import user_config_path

from gearfit.whole_files import write_whole

_FILE: Final = "open.json"
UNITS: Final = ("kmh", "mph")


def _path() -> Path:
    return user_config_path("gearfit", appauthor=False) / _FILE


def remembered() -> dict[str, str]:
    """Return what is remembered; nothing where it cannot be read."""
    try:
        found = json.loads(_path().read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return {key: value for key, value in found.items() if isinstance(value, str)} if isinstance(found, dict) else {}


def remember(**values: str) -> None:
    """Remember more; where that cannot be written it is asked again."""
    with suppress(OSError):
        write_whole(_path(), json.dumps({**remembered(), **values}, indent=1) + "\n")


def remembered_unit() -> str:
    """Return the unit of speed, "kmh" until another one was chosen."""
    unit = remembered().get("unit", "")
    return unit if unit in UNITS else UNITS[0]
