"""Each example's report, written once for all tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from gearfit.report import write_report
from gearfit.results import Analysis

Reports = Callable[[Callable[[], Analysis]], dict[str, Path]]


@pytest.fixture(scope="session")
def reports(tmp_path_factory: pytest.TempPathFactory) -> Reports:
    """Return a function that gives the files of an example's report; they are only to be read."""
    known: dict[str, dict[str, Path]] = {}

    def written(make: Callable[[], Analysis]) -> dict[str, Path]:
        name = make.__name__
        if name not in known:
            known[name] = write_report(make(), tmp_path_factory.mktemp(name) / "deep" / "report")
        return known[name]

    return written
