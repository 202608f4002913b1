"""Finds the open recordings that nobody on this project made; they are not part of the repository."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

#: Where the folder may be named, and where it lies beside a checkout.
VARIABLE = "GEARFIT_OUTSIDE_DATA"
BESIDE = Path(__file__).resolve().parents[2] / "shared" / "data"


def outside_data(name: str) -> Path:
    """Return the folder of one open data set, or skip the test with the reason."""
    root = Path(os.environ.get(VARIABLE, BESIDE))
    folder = root / name
    if not folder.is_dir():
        pytest.skip(f"open recordings {name!r} not found in {root}; set {VARIABLE} to their folder")
    return folder


def outside_file(name: str, pattern: str) -> Path:
    """Return the one file of an open data set that matches `pattern`, or skip the test with the reason."""
    (found,) = outside_data(name).glob(pattern)
    return found
