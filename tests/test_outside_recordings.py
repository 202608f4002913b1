"""The whole analysis on real recordings that nobody on this project made."""

from __future__ import annotations

import shutil
from itertools import combinations
from pathlib import Path

import pytest

import gearfit
from gearfit.records.results import Analysis, SetupResult
from gearfit.units import MPS_PER_KMH
from tests.outside import outside_data

#: "Automotive OBD-II Dataset", M. Weber, Karlsruhe Institute of Technology, RADAR4KIT 2023, DOI 10.35097/1130, CC BY
#: 4.0: drives of one car with a six-speed gearbox. Nothing was changed between them, so every true change is zero.
DRIVES = ("2017-07-14", "2017-07-31", "2018-02-20", "2018-03-19")

#: Where rev/min per km/h crowds in all 77 drives of that data set, counted apart from this project's code.
PEAKS_RPM_PER_KMH = (109.6, 57.4, 36.8, 25.5, 20.1, 16.82)


def two_drives(root: Path, before: str, after: str) -> Analysis:
    data = outside_data("obd_car")
    for setup, drive in (("before", before), ("after", after)):
        (root / setup).mkdir()
        shutil.copy(next(data.glob(f"{drive}_*.csv")), root / setup / "drive.csv")
    return gearfit.analyse(gearfit.read_folder(root))


def rpm_per_kmh(result: SetupResult) -> list[float]:
    return [1000 * MPS_PER_KMH / gear.speed_per_1000rpm_mps.value for gear in result.gears]


@pytest.fixture(scope="module")
def first_and_last(tmp_path_factory: pytest.TempPathFactory) -> Analysis:
    return two_drives(tmp_path_factory.mktemp("drives"), DRIVES[0], DRIVES[-1])


def test_six_gears_without_a_bike_file(first_and_last: Analysis) -> None:
    for result in first_and_last.setups:
        assert result.ladder == "from the samples"
        assert [gear.gear for gear in result.gears] == [1, 2, 3, 4, 5, 6]
        found = rpm_per_kmh(result)
        assert found[0] == pytest.approx(PEAKS_RPM_PER_KMH[0], rel=0.03)
        assert found[1:] == pytest.approx(PEAKS_RPM_PER_KMH[1:], rel=0.01)


def test_nothing_was_changed(first_and_last: Analysis) -> None:
    (comparison,) = first_and_last.comparisons
    assert comparison.predicted_change_percent is None
    assert comparison.all_gears_change_percent is not None
    assert comparison.all_gears_change_percent.contains(0)
    change = {gear.gear: gear for gear in comparison.gears}
    assert all(gear.consistent for gear in comparison.gears)
    assert abs(change[4].change_percent.value) < 0.1, "the highest gear that both drives used for long"
    assert change[6].change_percent.contains(0), "18 samples at one speed in whole km/h in the second drive"


def test_no_finding_says_that_anything_changed(first_and_last: Analysis) -> None:
    codes = {finding.code for finding in first_and_last.findings}
    assert codes.isdisjoint({"gear-out-of-line", "front-sprocket-guess", "tooth-pairs", "change-disagrees"})
    (doubt,) = (finding for finding in first_and_last.findings if finding.severity == "warning")
    assert doubt.code == "change-undecided"
    assert "the machine's own speed is as much in after as in before" in doubt.text, "an OBD speed may not see a swap"


@pytest.mark.parametrize(("before", "after"), list(combinations(DRIVES, 2)))
def test_any_two_drives(tmp_path: Path, before: str, after: str) -> None:
    """Measured: -0.09, +0.01, +0.04, +0.09, +0.08 and +0.07 % with intervals of +-0.2 to +-0.33 %."""
    (comparison,) = two_drives(tmp_path, before, after).comparisons
    assert len(comparison.gears) >= 4
    assert comparison.all_gears_change_percent is not None
    assert comparison.all_gears_change_percent.contains(0)
    assert abs(comparison.all_gears_change_percent.value) < 0.2
    assert all(gear.consistent for gear in comparison.gears)


def test_drives_without_stepped_gears(tmp_path: Path) -> None:
    """nds_data of the R package DrivePlotR, MIT licence, M. Hardt, H. Hofmann, G. Basulto-Elias."""
    (tmp_path / "before").mkdir()
    shutil.copy(outside_data("gps_drives") / "nds_data.csv", tmp_path / "before" / "drives.csv")
    analysis = gearfit.analyse(gearfit.read_folder(tmp_path))
    (result,) = analysis.setups
    assert (result.gears, result.ladder, result.circumference) == ((), "none", None)
    assert result.samples["gear"].isna().all()
    (said,) = (finding for finding in analysis.findings if finding.code == "no-gears")
    assert said.severity == "warning"
    start, end = said.text.split(" in ", 1)
    assert (
        start == "before: no gears were found: while the speed changes, the ratio of engine speed to speed stands still"
    )
    percent, rest = end.split(" % ", 1)
    assert float(percent) < 40
    assert rest == (
        "of the time (at least 40 % would show gears): an automatic or a belt drive, or the two channels do not belong "
        "together."
    )
