"""The fit from arrays, results by name, and how they show themselves."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import gearfit
from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.setup_fit import fit_setup
from gearfit.fitting.which_gear.ladder import from_teeth
from tests.validation.short_pulls import case

SAMPLES = Path(__file__).parents[1] / "sample_logs"
#: Lines and letters of a screen.
SCREEN = 24 * 80


def test_arrays_give_what_the_log_gives() -> None:
    """A pull through the gears, once as the file that it was written to, once as its columns."""
    recording = case(5002).recording
    table = recording.samples
    found = gearfit.fit(speed_mps=table["speed_mps"], engine_rpm=table["engine_rpm"], time_s=table["time_s"])
    levels = fit_setup(gather([recording]), None).levels
    assert levels is not None
    per_1000 = [1000 / np.exp(level) for level in levels.log_ratio]
    assert [gear.speed_per_1000rpm_mps.value for gear in found.gears] == pytest.approx(per_1000, rel=2e-3)


def test_readings_without_times_and_a_machine() -> None:
    """Held engine speeds: circumference by hand, C = 60 i v / n."""
    bike = gearfit.read_bike(SAMPLES / "trail-bike" / "bike.toml")
    setup = bike.setups[0]
    ladder = from_teeth(bike, setup)
    assert ladder is not None
    overall = np.exp(ladder.log_ratio)
    speed_mps = 5000 / 60 * 2.0 / overall
    found = gearfit.fit(
        speed_mps=pd.Series(speed_mps), engine_rpm=[5000.0] * 6, gear=range(1, 7), bike=bike, setup=setup.name
    )
    assert found.circumference is not None
    assert found.circumference.estimate_m.value == pytest.approx(2.0, rel=1e-6)
    summary = found.summary()
    assert "6th gear" in summary
    assert "2.00" in summary
    assert len(summary.splitlines()) <= 12


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"speed_mps": [1.0, 2.0], "engine_rpm": [3000.0]}, "one length"),
        ({"speed_mps": [[1.0]], "engine_rpm": [[3000.0]]}, "one dimension"),
        ({"speed_mps": [1.0, 2.0], "engine_rpm": [3000.0] * 2, "time_s": [1.0, 0.0]}, "ascending"),
        ({"speed_mps": [1.0], "engine_rpm": [3000.0], "setup": "third", "bike": "trail-bike"}, "'before', 'after'"),
    ],
)
def test_arrays_that_are_wrong_are_refused_in_one_line(wrong: dict[str, object], said: str) -> None:
    if "bike" in wrong:
        wrong = wrong | {"bike": gearfit.read_bike(SAMPLES / "trail-bike" / "bike.toml")}
    with pytest.raises(ValueError, match=said):
        gearfit.fit(**wrong)  # type: ignore[arg-type]


def test_setups_by_name_and_paths_as_text() -> None:
    analysis = gearfit.analyse(str(SAMPLES / "no-papers"))
    first = analysis.setups[0]
    assert analysis[first.setup.name] is first
    with pytest.raises(KeyError, match="there are"):
        analysis["nothing"]
    log = next((SAMPLES / "no-papers").rglob("*.csv"))
    assert gearfit.read_log(str(log)).file == log.name


def test_what_is_public_fits_on_a_screen() -> None:
    """The whole analysis of an hour's ride was 212,919 characters."""
    folder = gearfit.read_folder(SAMPLES / "trail-bike")
    analysis = gearfit.analyse(folder)
    recordings = [recording for ride in folder.setups for recording in ride.recordings]
    for shown in (
        folder,
        *folder.setups,
        *recordings,
        analysis,
        *analysis.setups,
        *analysis.comparisons,
        analysis.bike,
    ):
        assert len(repr(shown)) <= SCREEN, type(shown)
    assert "6 GearResult" in repr(analysis.setups[0])


def test_only_public_names_are_listed() -> None:
    assert dir(gearfit) == sorted(gearfit.__all__)
