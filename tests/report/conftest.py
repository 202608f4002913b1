"""Each example's report, written once for all tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import gearfit
from gearfit.records.results import Analysis
from gearfit.report import write_report
from tests.report.three_sets import write_three_sets

Reports = Callable[[Callable[[], Analysis]], dict[str, Path]]

SAMPLES = Path(__file__).parents[2] / "sample_logs"


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


@pytest.fixture(scope="session")
def ridden(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page on a ride with logs."""
    analysis = gearfit.analyse(gearfit.read_folder(SAMPLES / "trail-bike"))
    return write_report(analysis, tmp_path_factory.mktemp("trail"))["report.html"]


@pytest.fixture(scope="session")
def three(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page on rides with three sprocket sets."""
    folder = write_three_sets(tmp_path_factory.mktemp("three"))
    return write_report(gearfit.analyse(gearfit.read_folder(folder)), folder / "report")["report.html"]
