"""The sample folders in the repository are what the module writes, and what is said of them is true."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gearfit.importers import read_folder
from gearfit.machine.bike_file import read_bike
from gearfit.units import MPS_PER_MPH
from tests.simulator.__main__ import main
from tests.simulator.samples import SAMPLE_TRUTHS

COMMITTED = Path(__file__).resolve().parents[2] / "sample_logs"


def files_below(folder: Path) -> list[str]:
    found = (path.relative_to(folder) for path in folder.rglob("*") if path.is_file())
    return sorted(path.as_posix() for path in found if "report" not in path.parts)


def test_samples_are_written_anew_byte_for_byte(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(tmp_path / "anew")]) == 0
    assert capsys.readouterr().out == f"Sample rides written to {tmp_path / 'anew'}\n"
    assert files_below(tmp_path / "anew") == files_below(COMMITTED)
    for name in files_below(COMMITTED):
        assert (tmp_path / "anew" / name).read_bytes() == (COMMITTED / name).read_bytes(), name


@pytest.mark.parametrize("name", ["trail-bike", "motorway-commuter"])
def test_bike_file_states_the_gearing_that_was_simulated(name: str) -> None:
    text = (COMMITTED / name / "bike.toml").read_text(encoding="utf-8")
    assert text.startswith("# An invented bike: no such machine exists, and nobody rode these rides.")
    bike = read_bike(COMMITTED / name / "bike.toml")
    assert [setup.name for setup in bike.setups] == ["before", "after"]
    for setup in bike.setups:
        assert bike.overall_ratios(setup) == pytest.approx(SAMPLE_TRUTHS[name].overall_ratios[setup.name])


def test_changes_are_those_of_the_tooth_counts() -> None:
    changes = {name: truth.change_percent for name, truth in SAMPLE_TRUTHS.items()}
    expected = {
        "trail-bike": 100 * (48 / 50 - 1),
        "motorway-commuter": 100 * (16 / 15 - 1),
        "no-papers": 100 * (14 / 15 - 1),
    }
    assert changes == pytest.approx(expected)


@pytest.mark.parametrize("name", list(SAMPLE_TRUTHS))
def test_folder_is_read_without_complaint(name: str) -> None:
    folder = read_folder(COMMITTED / name)
    assert folder.has_bike_file == (name != "no-papers")
    assert [setup.setup.name for setup in folder.setups] == ["before", "after"]
    assert folder.notes == ()
    assert [recording.notes for setup in folder.setups for recording in setup.recordings if recording.notes] == []


def test_one_reading_of_the_commuter_is_ten_mph_too_high() -> None:
    truth = SAMPLE_TRUTHS["motorway-commuter"]
    wrong = []
    for setup in read_folder(COMMITTED / "motorway-commuter").setups:
        sheet = setup.recordings[0].samples
        per_1000 = np.array(truth.speed_per_1000rpm_mps[setup.setup.name])[sheet["stated_gear"].astype(int) - 1]
        error_mph = (sheet["speed_mps"] - per_1000 * sheet["engine_rpm"] / 1000) / MPS_PER_MPH
        rows = sheet.loc[error_mph.abs() > 2.0, ["file", "row", "stated_gear", "engine_rpm"]]
        wrong += [(row.file, row.row, row.stated_gear, row.engine_rpm) for row in rows.itertuples()]
        assert error_mph.abs().max() == pytest.approx(10.0 if len(rows) else 1.0, abs=1.0)
    misreading = truth.misreading
    assert misreading is not None
    assert wrong == [(misreading.file, misreading.row, misreading.gear, misreading.engine_rpm)]
    assert misreading.by_mps == pytest.approx(10 * MPS_PER_MPH)


def test_files_stay_small() -> None:
    sizes = {name: (COMMITTED / name).stat().st_size for name in files_below(COMMITTED)}
    assert max(sizes.values()) < 2_000_000
    assert sum(sizes.values()) < 4_000_000


def test_readme_says_that_all_is_invented() -> None:
    text = (COMMITTED / "README.md").read_text(encoding="utf-8")
    assert "All of this is invented" in text
    for name in SAMPLE_TRUTHS:
        assert f"`{name}`" in text
