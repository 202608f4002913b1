"""The notebook runs as it stands, and what it shows is what it finds."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.run_notebook import NOTEBOOK, REPOSITORY, read, run
from tests.simulator.samples import SAMPLE_TRUTHS

SAMPLE = Path("sample_logs") / "trail-bike"
TRUTH = SAMPLE_TRUTHS["trail-bike"]
AGAIN = "the stored results are old; run: python -m tests.run_notebook"


def printed(notebook: Any) -> list[str]:
    """Return what each code cell printed, in order; empty text where it printed nothing."""
    cells = [cell for cell in notebook.cells if cell.cell_type == "code"]
    return ["".join(out.text for out in cell.outputs if out.output_type == "stream") for cell in cells]


@pytest.fixture(scope="module")
def stored() -> Any:
    return read(REPOSITORY / NOTEBOOK)


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Return the notebook, run in a copy beside a copy of the sample rides."""
    place = tmp_path_factory.mktemp("checkout")
    shutil.copytree(REPOSITORY / SAMPLE, place / SAMPLE, ignore=shutil.ignore_patterns("report"))
    (place / NOTEBOOK).parent.mkdir()
    shutil.copy(REPOSITORY / NOTEBOOK, place / NOTEBOOK)
    return run(place / NOTEBOOK)


def test_notebook_reads_every_file_of_the_sample(fresh: Any) -> None:
    assert [line.split(":")[0] for line in printed(fresh)[0].splitlines()] == [
        f"{setup}/{name}" for setup in ("before", "after") for name in ("ride.gpx", "rpm.csv", "timed.csv")
    ]


def test_notebook_finds_the_true_change(fresh: Any) -> None:
    text = printed(fresh)[3]
    teeth, rides, low, high = (float(number) for number in re.findall(r"[+-]\d+\.\d+", text))
    assert teeth == pytest.approx(TRUTH.change_percent, abs=0.005)
    assert low <= TRUTH.change_percent <= high
    assert rides == pytest.approx(TRUTH.change_percent, abs=0.2)
    assert high - low < 0.5


def test_notebook_finds_the_true_circumference(fresh: Any) -> None:
    text = printed(fresh)[5]
    true_m, found_m = (float(number) for number in re.findall(r"(\d\.\d{3}) m", text))
    assert "within the interval: True" in text
    assert true_m == TRUTH.circumference_m
    assert found_m == pytest.approx(true_m, rel=0.005)


def test_notebook_writes_the_whole_report(fresh: Any) -> None:
    assert printed(fresh)[6].split() == [
        "gears.csv",
        "report.html",
        "results.json",
        "samples_after.csv",
        "samples_before.csv",
        "summary.png",
        "summary.svg",
    ]


@pytest.mark.parametrize("cell", [0, 3, 4, 5, 6])
def test_stored_results_are_those_of_a_fresh_run(stored: Any, fresh: Any, cell: int) -> None:
    assert printed(stored)[cell], AGAIN
    assert printed(stored)[cell] == printed(fresh)[cell], AGAIN


def test_stored_notebook_was_run_from_top_to_bottom(stored: Any) -> None:
    cells = [cell for cell in stored.cells if cell.cell_type == "code"]
    assert [cell.execution_count for cell in cells] == list(range(1, len(cells) + 1)), AGAIN
    assert [cell.metadata for cell in cells if cell.metadata] == [], "times of running do not belong into the file"
