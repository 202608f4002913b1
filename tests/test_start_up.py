"""A short command loads no more than it needs: read from the modules loaded, not from a clock."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import gearfit

REPOSITORY = Path(__file__).resolve().parents[1]
BIKE = REPOSITORY / "sample_logs" / "trail-bike" / "bike.toml"
HEAVY = ("pandas", "scipy", "matplotlib", "jinja2", "tqdm", "gpxpy")


def loaded_by(statement: str) -> set[str]:
    """Return the names of all modules that a new interpreter holds after a statement."""
    program = f"{statement}\nimport sys\nprint(*sorted(sys.modules), file=sys.stderr)"
    run = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": str(REPOSITORY), "PYTHONIOENCODING": "utf-8"},
    )
    return set(run.stderr.split())


@pytest.mark.parametrize(
    "statement", ["import gearfit", "import gearfit.commands.cli", "from gearfit import read_bike"]
)
def test_the_package_and_its_command_line_load_no_library(statement: str) -> None:
    loaded = loaded_by(statement)
    assert "gearfit" in loaded
    assert loaded.isdisjoint((*HEAVY, "numpy"))


def test_a_table_from_a_bike_file_needs_no_library() -> None:
    loaded = loaded_by(
        f"from gearfit.commands.cli import main; main(['predict', {str(BIKE)!r}, '--front', '13', '--change', '-5'])"
    )
    assert "gearfit.prediction.swap" in loaded
    assert loaded.isdisjoint((*HEAVY, "numpy", "gearfit.records.results"))


def test_a_plan_before_any_ride_loads_no_tables(tmp_path: Path) -> None:
    (tmp_path / "bike.toml").write_text(BIKE.read_text("utf-8"), "utf-8")
    plan = f"from gearfit.commands.cli import main; main(['plan', {str(tmp_path)!r}])"
    first, second = loaded_by(plan), loaded_by(plan)
    assert (tmp_path / "before" / "planned_holds.csv").is_file()
    for loaded in (first, second):
        assert "gearfit.prediction.planning.plan" in loaded
        assert loaded.isdisjoint(("pandas", "matplotlib", "scipy.stats", "gearfit.importers"))


def test_public_names_are_loaded_when_they_are_used() -> None:
    assert "gearfit.findings.analysis" in loaded_by("import gearfit; gearfit.analyse")
    for name in gearfit.__all__:
        assert getattr(gearfit, name) is getattr(gearfit, name)
    assert set(gearfit.__all__) <= set(dir(gearfit))


def test_a_name_that_is_not_public() -> None:
    with pytest.raises(AttributeError) as caught:
        gearfit.nothing  # type: ignore[attr-defined]  # noqa: B018
    assert str(caught.value) == "module 'gearfit' has no attribute 'nothing'"
