"""The notebook that plans a swap runs as it stands, and what it shows is right."""

from __future__ import annotations

import re
import shutil
from typing import Any

import pytest

from tests.run_notebook import PLAN_NOTEBOOK, REPOSITORY, read, run
from tests.test_notebook import AGAIN, SAMPLE, printed


@pytest.fixture(scope="module")
def stored() -> Any:
    return read(REPOSITORY / PLAN_NOTEBOOK)


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Return the notebook, run in a copy beside a copy of the sample bike."""
    place = tmp_path_factory.mktemp("checkout")
    (place / SAMPLE).mkdir(parents=True)
    shutil.copy(REPOSITORY / SAMPLE / "bike.toml", place / SAMPLE)
    (place / PLAN_NOTEBOOK).parent.mkdir()
    shutil.copy(REPOSITORY / PLAN_NOTEBOOK, place / PLAN_NOTEBOOK)
    done = run(place / PLAN_NOTEBOOK)
    assert sorted(path.name for path in (place / SAMPLE).iterdir()) == ["bike.toml"]
    return done


# By hand: 48/50 - 1 = -4.00 %, 50/48 - 1 = +4.17 %.
def test_it_shows_the_change_that_the_teeth_give(fresh: Any) -> None:
    assert "road speed at the same rpm -4.00 %, thrust +4.17 %" in printed(fresh)[2]


def test_it_ends_with_a_card_that_has_a_box_for_each_reading_and_run(fresh: Any) -> None:
    plan, sheet = printed(fresh)[4], printed(fresh)[5]
    passes = int(re.findall(r"(\d) passes in each gear", plan)[0])
    runs = int(re.findall(r"(\d+) standing starts", plan)[0])
    assert f"boxes on the card: {6 * passes + runs}" in sheet
    assert sheet.startswith("gear,rpm,way,speed_kmh\n1,")
    assert "Closed road or track" in plan


@pytest.mark.parametrize("cell", range(6))
def test_stored_results_are_those_of_a_fresh_run(stored: Any, fresh: Any, cell: int) -> None:
    assert printed(stored)[cell] == printed(fresh)[cell], AGAIN


def test_stored_notebook_was_run_from_top_to_bottom(stored: Any) -> None:
    cells = [cell for cell in stored.cells if cell.cell_type == "code"]
    assert [cell.execution_count for cell in cells] == list(range(1, len(cells) + 1)), AGAIN
    assert [cell.metadata for cell in cells if cell.metadata] == [], "times of running do not belong into the file"
