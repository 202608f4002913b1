"""Hand-entered sheets and timed runs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearfit.errors import LogError, UnitError
from gearfit.importers import read_log
from tests.importers.conftest import Read

MPH = 0.44704


def test_a_sheet_of_samples(read: Read) -> None:
    sheet = read("gear,rpm,speed_mph,repeat\n1,5000,29,1\n2,5000,40,1\n3,5000,,1\n")
    samples = sheet.samples
    assert (sheet.kind, sheet.clock, sheet.start_s, sheet.speed_source) == ("samples", "none", None, "hand")
    assert samples["time_s"].isna().all()
    assert samples["stated_gear"].tolist() == [1, 2, 3]
    assert samples["speed_mps"].tolist()[:2] == pytest.approx([29 * MPH, 40 * MPH])
    assert samples["speed_fresh"].tolist() == [True, True, False]
    assert sheet.notes == ("1 of 3 rows lack a value (the first is line 4).",)


@pytest.mark.parametrize(
    ("speeds", "step"),
    [
        ((29, 40, 50), 1.0),
        ((30, 40), 1.0),
        ((30, 40, 50, 60), 5.0),
        ((30, 45, 50, 60), 5.0),
        (("29.5", "40.0", "50.5"), 0.1),
        (("29.0", "40.0", "50.0"), 1.0),
    ],
)
def test_the_step_to_which_speeds_were_read(read: Read, speeds: tuple[object, ...], step: float) -> None:
    sheet = read("rpm,speed_mph\n" + "".join(f"5000,{speed}\n" for speed in speeds))
    assert sheet.speed_step_mps == pytest.approx(step * MPH)
    assert sheet.samples["speed_sd_mps"].to_numpy() == pytest.approx(step * MPH / np.sqrt(12))


def test_the_error_of_an_engine_speed_is_that_of_reading_alone(read: Read) -> None:
    """How steadily a person holds a needle shows in the readings beside each other; the fit finds it there."""
    sheet = read("rpm,speed_kmh\n5000,50\n8010,81\n")
    assert sheet.rpm_step_rpm == 1.0
    assert sheet.samples["rpm_sd_rpm"].tolist() == pytest.approx([1 / np.sqrt(12)] * 2)


def test_a_scale_read_in_hundreds(read: Read) -> None:
    sheet = read("rpm,speed_kmh\n" + "".join(f"{2000 + 300 * k},{20 + k}\n" for k in (0, 1, 2, 3, 5, 7, 8, 9, 11)))
    assert sheet.rpm_step_rpm == 100.0, "the step counts as 100 rpm at most"
    assert sheet.samples["rpm_sd_rpm"].to_numpy() == pytest.approx(100 / np.sqrt(12))


def test_a_held_rpm_sheet(read: Read) -> None:
    for text in ("gear,rpm\n2,4000\n3,5000\n", "gear,rpm,speed_kmh\n2,4000,\n3,5000,\n"):
        sheet = read(text)
        assert (sheet.kind, sheet.speed_source, sheet.speed_step_mps) == ("held rpm", "none", None)
        assert sheet.samples["engine_rpm"].tolist() == [4000, 5000]
        assert sheet.samples["speed_mps"].isna().all()
        assert not sheet.samples["speed_fresh"].any()


@pytest.mark.parametrize(
    ("text", "clock", "start_s", "time_s"),
    [
        ("time,gear,rpm\n10:02,2,4000\n10:02,3,5000\n10:05,3,6000\n", "time of day", 36120.0, [0, 0, 180]),
        ("time,gear,rpm\n10:02:10,2,4000\n10:02:40,3,5000\n10:05:00,3,6000\n", "time of day", 36130.0, [0, 30, 170]),
        ("time,gear,rpm\n2:02 PM,2,4000\n2:03 pm,3,5000\n,3,6000\n", "time of day", 50520.0, [0, 60, np.nan]),
        ("time_s,gear,rpm\n0,2,4000\n20,3,5000\n45,3,6000\n", "elapsed", 0.0, [0, 20, 45]),
        (
            "time;gear;rpm\n2026-05-01T09:12Z;2;4000\n2026-05-01T09:13Z;3;5000\n;3;6000\n",
            "utc",
            1777626720.0,
            [0, 60, np.nan],
        ),
    ],
)
def test_times_beside_held_engine_speeds(
    read: Read, text: str, clock: str, start_s: float, time_s: list[float]
) -> None:
    sheet = read(text)
    assert (sheet.kind, sheet.clock, sheet.start_s) == ("held rpm", clock, start_s)
    assert sheet.samples["time_s"].to_numpy() == pytest.approx(np.array(time_s), nan_ok=True)
    assert sheet.samples["engine_rpm"].tolist() == [4000, 5000, 6000]


def test_held_engine_speeds_stand_in_order_of_the_clock(read: Read) -> None:
    sheet = read("time,gear,rpm\n10:05,4,6000\n10:02,2,4000\n,2,4500\n10:03,3,5000\n")
    assert sheet.samples["row"].tolist() == [3, 4, 5, 2]
    assert sheet.samples["stated_gear"].tolist() == [2, 2, 3, 4]


def test_a_logger_with_a_gear_sensor_writes_no_sheet(read: Read) -> None:
    rows = "".join(f"{k / 10:.1f},{3 + k // 50},{4000 + 7 * k}\n" for k in range(100))
    assert read("time_s,gear,rpm\n" + rows).kind == "log"
    assert read("time_s,gear,rpm,note\n" + rows.replace("\n", ",x\n")).kind == "log"


def test_indicated_beside_true_speeds(read: Read) -> None:
    sheet = read("rpm,speed_kmh,indicated_kmh\n5000,50,54\n6000,60,65\n")
    assert sheet.speed_source == "hand"
    assert sheet.samples["indicated_mps"].tolist() == pytest.approx([15.0, 65 / 3.6])
    assert sheet.samples["speed_mps"].tolist() == pytest.approx([50 / 3.6, 60 / 3.6])


def test_indicated_speeds_serve_where_there_are_no_others(read: Read) -> None:
    sheet = read("gear,rpm,indicated_mph\n1,5000,29\n2,5000,40\n")
    assert sheet.speed_source == "speedometer"
    assert sheet.samples["speed_mps"].tolist() == sheet.samples["indicated_mps"].tolist()


def test_a_sheet_whose_rows_are_all_incomplete(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("gear,rpm,speed_kmh\n1,5000,\n2,,40\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, line 2: no row holds every value that it needs. Fill in rpm and speed_kmh in each row."
    )


def test_timed_runs(read: Read) -> None:
    sheet = read("from_kmh;to_kmh;time_s\n0;100;6,2\n36;72;4,1\n0;100;\n100;50;3\n")
    assert sheet.kind == "timed runs"
    assert len(sheet.samples) == 0
    assert sheet.runs["row"].tolist() == [2, 3]
    assert sheet.runs["from_mps"].tolist() == pytest.approx([0, 10])
    assert sheet.runs["to_mps"].tolist() == pytest.approx([100 / 3.6, 20])
    assert sheet.runs["time_s"].tolist() == [6.2, 4.1]
    assert sheet.notes == (
        "1 row with a speed or the time missing left out (the first is line 4).",
        "1 row with a target speed not above the start, or no time left out (the first is line 5).",
    )


def test_a_block_of_runs_pasted_twice_counts_once(read: Read) -> None:
    times = ["6.79", "6.84", "6.94", "6.81", "6.61"]
    sheet = read("from_kmh,to_kmh,time_s\n" + "".join(f"0,100,{t}\n" for t in times + times))
    assert sheet.runs["time_s"].tolist() == [float(t) for t in times]
    assert sheet.warnings == (
        "the runs from line 7 on are the first 5 once more, in the same order: they count once. "
        "Remove the copy, or write the times to 0.01 s.",
    )
    whole_seconds = read("from_kmh,to_kmh,time_s\n" + "0,100,6\n0,100,6\n0,100,7\n" * 2)
    assert len(whole_seconds.runs) == 6, "whole seconds come again"


def test_timed_runs_in_two_units(read: Read) -> None:
    sheet = read("from_kmh,to_mph,time_s\n0,60,4\n")
    assert sheet.runs["to_mps"].tolist() == pytest.approx([60 * MPH])


def test_timed_runs_without_a_unit(read: Read) -> None:
    with pytest.raises(UnitError) as caught:
        read("from,to,time_s\n0,60,4\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, column 'from': the header states no unit of speed that is known; allowed are km/h, mph, m/s, knots "
        "and ft/s. Write from_kmh or from_mph (or from_mps) as the header."
    )


def test_timed_runs_that_are_none(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("from_kmh,to_kmh,time_s\n100,0,4\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, line 2: no row holds a run; a run needs a start speed, a higher target speed and a time above 0. "
        "Correct the rows."
    )


@settings(max_examples=20, deadline=None)
@given(order=st.permutations(range(6)))
def test_the_order_of_an_untimed_sheet_changes_nothing(
    order: list[int], tmp_path_factory: pytest.TempPathFactory
) -> None:
    rows = [f"{k + 1},{3000 + 500 * k},{20.5 + 11 * k}\n" for k in range(6)]
    folder: Path = tmp_path_factory.mktemp("sheets")
    for name, chosen in (("one", range(6)), ("two", order)):
        (folder / name).write_text("gear,rpm,speed_kmh\n" + "".join(rows[k] for k in chosen))
    tables = [read_log(folder / name).samples.drop(columns=["file", "row"]) for name in ("one", "two")]
    one, two = (table.sort_values("stated_gear").reset_index(drop=True) for table in tables)
    pd.testing.assert_frame_equal(one, two)


def test_a_sheet_for_the_speedometer_alone(read: Read) -> None:
    sheet = read("speed_kmh,indicated_kmh\n50,54\n72,78\n")
    assert (sheet.kind, sheet.speed_source) == ("samples", "hand")
    assert sheet.samples["engine_rpm"].isna().all()
    assert sheet.samples["indicated_mps"].tolist() == pytest.approx([15, 78 / 3.6])
