"""Steps as a gearbox has them, and steps that are none."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

import gearfit
from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.setup_fit import fit_setup
from gearfit.fitting.which_gear.line_of_gears import places_in_line, without_room
from gearfit.importers import read_log
from tests.outside import outside_file

#: rev/min per km/h of all 77 drives of the set ("Automotive OBD-II Dataset", M. Weber, Karlsruhe Institute of
#: Technology, RADAR4KIT 2023, DOI 10.35097/1130, CC BY 4.0), counted apart from this project's code.
PEAKS = (109.6, 57.4, 36.8, 25.5, 20.1, 16.82)


@pytest.mark.parametrize("false", [72.0, 46.9])
def test_a_step_between_two_gears_has_no_room(false: float) -> None:
    steps = np.log(np.sort([*PEAKS, false])[::-1])
    seconds = np.where(np.isclose(steps, np.log(false)), 20.0, 100.0)
    assert np.exp(steps[without_room(steps, seconds)]) == pytest.approx([false])
    assert not without_room(np.log(PEAKS), np.arange(6.0)).any()


def test_a_gear_that_was_skipped_keeps_its_number() -> None:
    assert places_in_line(np.log(PEAKS)).tolist() == [0, 1, 2, 3, 4, 5]
    assert places_in_line(np.log([p for p in PEAKS if p != 20.1])).tolist() == [0, 1, 2, 3, 5]
    assert places_in_line(np.log(PEAKS[:2])).tolist() == [0, 1]
    assert places_in_line(np.empty(0)).tolist() == []


@pytest.mark.parametrize("day", ["2017-07-05", "2017-07-11", "2018-02-23", "2018-03-22", "2018-04-23", "2018-02-18"])
def test_no_false_gear_in_real_drives(day: str) -> None:
    """Slow traffic with plateaus at 72, 46.9 and 89; fifth gear never used for long in two of them."""
    fit = fit_setup(gather([read_log(outside_file("obd_car_more", f"{day}_*.csv"))]), None)
    assert fit.levels is not None
    found = np.exp(fit.levels.log_ratio) / 3.6
    assert np.abs(found[:, None] / np.array(PEAKS) - 1).min(axis=1).max() < 0.02
    first = 2 if day == "2018-02-23" else 1
    numbers = fit.levels.gear + first - 1
    assert found == pytest.approx([PEAKS[number - 1] for number in numbers], rel=0.02)


@pytest.mark.parametrize(
    ("day", "code", "text"),
    [
        ("2017-07-05", "gear-uncertain", "is no sure gear"),
        ("2018-03-22", "gear-numbering-uncertain", "the steps leave room for fifth gear, which the ride does not show"),
    ],
)
def test_the_report_warns(tmp_path: Path, day: str, code: str, text: str) -> None:
    (tmp_path / "before").mkdir()
    shutil.copy(outside_file("obd_car_more", f"{day}_*.csv"), tmp_path / "before" / "drive.csv")
    found = gearfit.analyse(gearfit.read_folder(tmp_path)).findings
    (warning,) = (finding for finding in found if finding.code == code)
    assert warning.severity == "warning"
    assert text in warning.text
