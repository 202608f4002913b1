"""Single runs on the page: what each says of its changes of gear, and why others do not count, in the reader's unit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gearfit.records.results import Analysis, LeftOutRun, Shift, TimedSpan
from gearfit.report.tables.run_tables import reason_in, run_tables
from tests.report import example

KMH = 1 / 3.6
SHIFTS = (
    Shift(1.4, 43.4 * KMH, 1, 2, 8612.0, 0.35, 0.213),
    Shift(3.1, 61.0 * KMH, 2, 3, None, 0.4, None),
)
RUN = TimedSpan(
    "before/ride.gpx",
    0.0,
    100 * KMH,
    83.21,
    example.estimate(6.31, 0.03),
    kind="ride",
    how="standing start",
    gears=(1, 2, 3),
    shifts=SHIFTS,
)
ROLL_ON = replace(RUN, how="roll-on", gears=(4,), shifts=(), from_mps=60 * KMH)
ABORTED = LeftOutRun("before/ride.gpx", 0.0, 100 * KMH, 301.0, None, "aborted at 72 km/h", 72.0 * KMH)
GENTLE = replace(ABORTED, time_s=9.5, reason="part throttle: 62 % of the hardest acceleration", speed_mps=None)


def analysis(unit: str = "kmh") -> Analysis:
    made = example.two_setups(speed_unit=unit)
    first = replace(made.setups[0], timed_spans=(RUN, ROLL_ON), left_out_runs=(ABORTED, GENTLE))
    return replace(made, setups=(first, made.setups[1]))


def test_runs_with_their_changes_of_gear() -> None:
    found, _ = run_tables(analysis())
    start, roll_on = found.rows
    texts = [cell.text.replace("\N{NO-BREAK SPACE}", " ") for cell in start]
    assert texts == [
        "0 to 100 km/h",
        "before",
        "83.2",
        "6.31",
        "0.030",
        "standing start",
        "1 to 2 at 43 km/h, 8612 rpm, 0.21 s lost; 2 to 3 at 61 km/h",
    ]
    assert [cell.below for cell in start][2:6] == ["before/ride.gpx", "6.25 to 6.37", "", "gears 1, 2, 3"]
    assert (roll_on[5].text, roll_on[5].below, roll_on[6].text) == ("roll-on", "gear 4", "–")
    assert "delay of the receiver moves start and end alike and cancels" in found.remark


def test_what_else_a_run_shows_stands_beside_its_time() -> None:
    (table,) = run_tables(example.found_runs())
    further = dict(zip(table.head, table.rows[2], strict=True))
    assert [(name, cell.text, cell.below) for name, cell in further.items()][3:9] == [
        ("Time [s]", "6.80", "6.74 to 6.86"),
        ("Standard error [s]", "0.030", "start\N{NO-BREAK SPACE}0.011, end\N{NO-BREAK SPACE}0.020"),
        ("One-foot rollout [s]", "6.00", "5.94 to 6.06"),
        ("Corrected by SAE J1349 [s]", "6.12", "6.07 to 6.17"),
        ("Slope [%]", "−0.60", "−0.80 to −0.40"),
        ("Direction", "SW 221°", ""),
    ]
    roll_on = dict(zip(table.head, table.rows[4], strict=True))
    assert [roll_on[name].text for name in table.head[5:9]] == ["–"] * 4
    assert "never instead of it" in table.remark
    assert "Road and engine speed at which each gear was left" not in table.remark  # no run changed gear


@pytest.mark.parametrize(
    ("heading_deg", "letters"),
    # a compass card: 16 points, 22.5 degrees each, north from 348.75 to 11.25
    [(0.0, "N"), (11.0, "N"), (12.0, "NNE"), (90.0, "E"), (180.0, "S"), (236.3, "WSW"), (348.0, "NNW"), (359.8, "N")],
)
def test_the_direction_in_letters(heading_deg: float, letters: str) -> None:
    made = analysis()
    runs = (replace(RUN, heading_deg=heading_deg),)
    table = run_tables(replace(made, setups=(replace(made.setups[0], timed_spans=runs), made.setups[1])))[0]
    cell = dict(zip(table.head, table.rows[0], strict=True))["Direction"]
    assert cell.text == f"{letters} {round(heading_deg) % 360}°"


def test_each_standard_of_correction_has_its_column() -> None:
    made = example.found_runs()
    first = replace(made.setups[0].setup, conditions=replace(made.setups[0].setup.conditions, correction="ISO 1585"))
    (table,) = run_tables(replace(made, setups=(replace(made.setups[0], setup=first), made.setups[1])))
    shown = [(line[table.head.index("Corrected by ISO 1585 [s]")].text, line[1].text) for line in table.rows]
    assert ("6.12", "before") in shown
    assert {text for text, setup in shown if setup == "after"} == {"–"}


@pytest.mark.parametrize(("unit", "speed"), [("kmh", "72 km/h"), ("mph", "45 mph")])
def test_runs_that_do_not_count_in_the_unit_of_the_reader(unit: str, speed: str) -> None:
    assert [run[4].text for run in run_tables(analysis(unit))[1].rows] == [f"aborted at {speed}", GENTLE.reason]
    gap = replace(
        ABORTED,
        reason="interrupted: no sample for 2.1 s, in which the speed changed by 38 km/h",
        speed_mps=38.3 * KMH,
    )
    assert reason_in(gap, "mph") == "interrupted: no sample for 2.1 s, in which the speed changed by 24 mph"


def test_no_table_without_runs_found() -> None:
    assert run_tables(example.two_setups()) == []


def test_tables_of_shifts_and_of_runs_left_out() -> None:
    shifts, left_out = analysis().shifts_frame(), analysis().left_out_runs_frame()
    assert shifts[["setup", "start_s", "from_gear", "to_gear"]].to_numpy().tolist() == [
        ["before", 83.21, 1, 2],
        ["before", 83.21, 2, 3],
    ]
    assert shifts["lost_s"].isna().tolist() == [False, True]
    assert left_out["reason"].tolist() == [ABORTED.reason, GENTLE.reason]
    assert analysis().setups[0].shifts_frame().equals(shifts)
