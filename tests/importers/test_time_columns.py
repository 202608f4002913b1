"""Logs in which channels have time columns of their own. The rides are invented."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from gearfit.commands.cli import main
from gearfit.errors import LogError, UnitError
from gearfit.importers.common.headers import read_header
from tests.importers.conftest import Read

Rows = list[tuple[float, float]]

SPEED: Rows = [(0.0, 50.1), (1.0, 50.3), (2.0, 50.9)]
RPM: Rows = [(0.05, 4980), (0.15, 4990), (0.25, 5000), (0.35, 5010), (1.0, 5020)]


def side_by_side(left: list[str], right: list[str], delimiter: str) -> str:
    """Columns of different length beside each other, the shorter filled with empty cells."""
    rows = max(len(left), len(right))
    empty = delimiter * left[0].count(delimiter)
    padded = [part + [empty] * (rows - len(part)) for part in (left, right)]
    return "\n".join(delimiter.join(pair) for pair in zip(*padded, strict=True)) + "\n"


def channel(header: str, rows: Rows) -> list[str]:
    return [header, *(f"{time},{value}" for time, value in rows)]


@pytest.mark.parametrize(
    ("header", "unit", "factor"),
    [
        ("time_speed_s", "s", 1.0),
        ("time_rpm_ms", "ms", 1e-3),
        ("time_rpm", None, 1.0),
        ("Engine RPM time (s)", "s", 1.0),
        ("Time.1", None, 1.0),
        ("Time (ms).2", "ms", 1e-3),
        ("time_gps_speed_utc", "utc", 1.0),
    ],
)
def test_times_of_a_channel_are_times(header: str, unit: str | None, factor: float) -> None:
    meaning = read_header(header)
    assert meaning is not None
    assert (meaning.channel, meaning.unit, meaning.factor) == ("time_s", unit, factor)


def test_the_number_of_a_copy_is_no_part_of_a_header() -> None:
    meaning = read_header("Speed (km/h).1")
    assert meaning is not None
    assert (meaning.channel, meaning.unit) == ("speed_mps", "km/h")


@pytest.mark.parametrize(
    ("first", "second"),
    [("time_speed_s,speed_kmh", "time_rpm_s,rpm"), ("Time (s),speed_kmh", "Time (s),rpm"), ("Time,km/h", "Time.1,rpm")],
)
def test_the_same_as_two_files(read: Read, first: str, second: str) -> None:
    first = first.replace("km/h", "speed (km/h)")
    both = read(side_by_side(channel(first, SPEED), channel(second, RPM), ","))
    for rows, name, header in ((SPEED, "speed", "time_s,speed_kmh"), (RPM, "rpm", "time_s,rpm")):
        alone = read("\n".join(channel(header, rows)))
        value, error, fresh = {
            "speed": ("speed_mps", "speed_sd_mps", "speed_fresh"),
            "rpm": ("engine_rpm", "rpm_sd_rpm", "rpm_fresh"),
        }[name]
        own = both.samples[both.samples[value].notna()]
        shared = both.samples[["speed_mps", "engine_rpm"]].notna().all(axis=1)[own.index].to_numpy()
        assert own["row"].to_numpy()[~shared].tolist() == alone.samples["row"].to_numpy()[~shared].tolist()
        assert shared.sum() == 1
        for column in (value, error, fresh):
            assert own[column].tolist() == alone.samples[column].tolist()
        assert (own["time_s"] + (both.start_s or 0.0)).tolist() == pytest.approx([time for time, _ in rows])


def test_the_same_as_an_ordinary_log_where_the_moments_are_the_same(read: Read) -> None:
    rows = [(k / 10, round(40 + 5 * np.sin(k / 7), 1), 3000 + 11 * k) for k in range(60)]
    ordinary = read("time_s,speed_kmh,rpm\n" + "\n".join(f"{t},{v},{n}" for t, v, n in rows))
    own = read("time_s,speed_kmh,time_s.1,rpm\n" + "\n".join(f"{t},{v},{t},{n}" for t, v, n in rows))
    pd.testing.assert_frame_equal(own.samples, ordinary.samples)
    assert (own.clock, own.start_s, own.speed_step_mps) == (ordinary.clock, ordinary.start_s, ordinary.speed_step_mps)


def test_held_values_are_found_within_a_channel(read: Read) -> None:
    """A receiver's speed, new once a second, held in ten rows, beside engine speed at other moments."""
    speed = [(k / 10, 40.0 + 3 * (k // 10) + (k // 10) ** 2 / 10) for k in range(200)]
    rpm = [(k / 10 + 0.03, 3000.0 + 7 * k) for k in range(200)]
    both = read(side_by_side(channel("time_speed_s,speed_kmh", speed), channel("time_rpm_s,rpm", rpm), ","))
    alone = read("\n".join(channel("time_s,speed_kmh", speed)))
    assert int(both.samples["speed_fresh"].sum()) == int(alone.samples["speed_fresh"].sum()) == 20
    assert int(both.samples["rpm_fresh"].sum()) == 200


def test_moments_are_counted(read: Read) -> None:
    log = read(side_by_side(channel("time_speed_s,speed_kmh", SPEED), channel("time_rpm_s,rpm", [*RPM, RPM[-1]]), ","))
    assert log.notes == (
        "Channels have times of their own: 3 rows of 'speed_kmh' under 'time_speed_s', 5 rows of 'rpm' under "
        "'time_rpm_s'; put in order of time, 7 moments.",
        "1 row wholly like an earlier row left out.",
    )
    assert log.samples["time_s"].tolist() == pytest.approx([0, 0.05, 0.15, 0.25, 0.35, 1, 2])
    assert log.samples["row"].tolist() == [2, 2, 3, 4, 5, 3, 4]


def test_rows_without_a_time_and_out_of_order_are_counted(read: Read) -> None:
    rpm = [f"{k / 10},{3000 + k}" for k in range(60)]
    rpm[20:22] = rpm[21], rpm[20]
    rpm[40] = "?,3040"
    log = read(side_by_side(channel("time_speed_s,speed_kmh", SPEED), ["time_rpm_s,rpm", *rpm], ","))
    assert log.notes[1:] == (
        "1 row without a readable time left out (the first is line 42; seconds, HH:MM:SS (or with AM/PM), ISO 8601 "
        "(2024-05-01T12:00:00Z) or Unix time).",
        "1 row out of order put in order of time.",
    )
    assert log.samples["engine_rpm"].notna().sum() == 59


def test_a_time_that_starts_again_is_refused(read: Read) -> None:
    rpm = [(k % 30 / 10, 3000.0 + k) for k in range(60)]
    with pytest.raises(LogError) as caught:
        read(side_by_side(channel("time_speed_s,speed_kmh", SPEED), channel("time_rpm_s,rpm", rpm), ","), "a.csv")
    assert str(caught.value) == (
        "a.csv, line 32: the time runs backwards from here in 29 rows; allowed is one recording a file. Split the file "
        "here."
    )


def test_midnight_between_the_first_rows(read: Read) -> None:
    log = read(
        "Time,Speed (km/h),Time,Engine RPM\n23:59:59.5,50,00:00:00.0,4000\n00:00:00.5,51,00:00:00.1,4010\n"
        "00:00:01.5,52,00:00:00.2,4020\n"
    )
    assert log.samples["time_s"].tolist() == pytest.approx([0, 0.5, 0.6, 0.7, 1, 2])
    assert log.samples["engine_rpm"].dropna().tolist() == [4000, 4010, 4020]
    assert log.start_s == pytest.approx(86_399.5)


def test_midnight_the_other_way_round(read: Read) -> None:
    log = read("Time,Speed (km/h),Time,rpm\n00:00:00.5,51,23:59:59.9,4000\n00:00:01.5,52,00:00:00.9,4010\n")
    assert log.samples["time_s"].tolist() == pytest.approx([0, 0.6, 1, 1.6])
    assert log.start_s == pytest.approx(86_399.9)


@pytest.mark.parametrize(
    "text",
    [
        "Date,Time UTC,Speed (km/h),Date,Time UTC,rpm\n2026-05-10,23:59:59,50,2026-05-11,00:00:01,4000\n"
        "2026-05-11,00:00:02,51,2026-05-11,00:00:03,4010\n",
        "Time UTC,Speed (km/h),Time UTC,rpm\n2026-05-10T23:59:59Z,50,2026-05-11T00:00:01Z,4000\n"
        "2026-05-11T00:00:02Z,51,2026-05-11T00:00:03Z,4010\n",
    ],
)
def test_dates_and_zones(read: Read, text: str) -> None:
    log = read(text)
    assert log.clock == "utc"
    # 2026-05-10 is day 20583 after 1970-01-01 (56 years of 365 days, 14 leap days, 129 days): by hand.
    assert log.start_s == 20_583 * 86_400 + 86_399
    assert log.samples["time_s"].tolist() == [0, 2, 3, 4]


def test_one_date_for_all_rows(read: Read) -> None:
    log = read("Date,Time UTC,Speed (km/h),Time UTC,rpm\n2026-05-10,10:00:00,50,10:00:01,4000\n,,,10:00:02,4010\n")
    assert log.start_s == 20_583 * 86_400 + 36_000
    assert log.samples["time_s"].tolist() == [0, 1, 2]


def test_dates_that_belong_to_no_time_column_are_refused(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("Date,Time,Speed (km/h),Time,rpm\n2026-05-10,23:00:00,50,23:00:01,1\n2026-05-11,0:00:00,50,,\n", "a.csv")
    assert str(caught.value) == (
        "a.csv: there are 2 time columns with channels of their own and 1 with dates; allowed is one date for all "
        "rows, or a column of dates for each time column. Write the date into the cells of the time columns."
    )


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        (
            channel("time_speed_s,speed_kmh", SPEED),
            channel("time_rpm_ms,rpm", RPM),
            "'time_speed_s' in s (elapsed), 'time_rpm_ms' in ms (elapsed)",
        ),
        (
            channel("Time (s),speed_kmh", SPEED),
            ["Time,rpm", "10:00:00,3000", "10:00:01,3010"],
            "'Time (s)' in s (elapsed), 'Time' in HH:MM:SS (time of day)",
        ),
        (
            ["Time,speed_kmh", "2026-05-10T10:00:00Z,50", "2026-05-10T10:00:01Z,50"],
            ["Time,rpm", "1778407200,3000", "1778407201,3010", "1778407203,3010"],
            "'Time' in ISO 8601 (utc), 'Time' in Unix s (utc)",
        ),
    ],
)
def test_several_units_or_clocks_are_refused(read: Read, first: list[str], second: list[str], said: str) -> None:
    with pytest.raises(LogError) as caught:
        read(side_by_side(first, second, ","), "a.csv")
    assert str(caught.value) == (
        f"a.csv: the time columns of its channels are written as {said}; allowed is one unit and one clock for all. "
        "Write all time columns alike."
    )


def test_a_time_column_without_times_is_refused(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("time_speed_s,speed_kmh,time_rpm_s,rpm\n0,50,soon,3000\n1,51,later,3100\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, line 2, column 'time_rpm_s': 'soon' is no time; allowed is seconds, HH:MM:SS (or with AM/PM), ISO 8601 "
        "(2024-05-01T12:00:00Z) or Unix time. Write the times in one of these forms."
    )


def test_plain_numbers_far_apart_need_a_unit(read: Read) -> None:
    with pytest.raises(UnitError):
        read("Time,speed_kmh,Time,rpm\n0,50,0,3000\n100,51,10,3100\n200,51,20,3100\n")


@pytest.mark.parametrize(
    "text",
    [
        "time_s,speed_kmh,Engine run time (s),rpm\n0.0,50,0,4000\n0.1,51,0,4010\n0.2,51,0,4020\n",
        "time_s,speed_kmh,GPS time,GPS speed (km/h),rpm\n0.0,50,10:00:00,50,4000\n0.1,51,10:00:00,50,4010\n",
        "time_s,timestamp,speed_kmh,rpm\n0.0,1778407200,50,4000\n0.1,1778407200,50,4000\n",
        "Time (s),speed_kmh,Time (ms),rpm\n0.0,50,0,4000\n0.1,51,100,4010\n0.2,51,200,4020\n",
    ],
)
def test_ordinary_logs_with_another_time_stay_what_they_are(read: Read, text: str) -> None:
    log = read(text)
    assert len(log.samples) == text.count("\n") - 1
    assert log.samples[["speed_mps", "engine_rpm"]].notna().all(axis=None)
    assert not any("times of their own" in note for note in log.notes)
    assert any(" is used and " in note for note in log.notes)


def test_three_channels_and_a_time_that_belongs_to_none(read: Read) -> None:
    log = read(
        "time,time_speed_s,speed_kmh,time_gear_s,gear,time_rpm_s,rpm\n9,0.0,50,0.2,2,0.1,4000\n9,1.0,51,0.4,3,1.1,4010\n"
    )
    assert log.samples["time_s"].tolist() == pytest.approx([0, 0.1, 0.2, 0.4, 1.0, 1.1])
    assert log.samples["stated_gear"].dropna().tolist() == [2, 3]
    assert "Column 'time' is not used, as the channels have times of their own." in log.notes


def test_words_of_the_rider(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bike.toml").write_text('[columns]\ntime = "Zeit"\nspeed = "Tempo"\nspeed_unit = "km/h"\n', "utf-8")
    log = tmp_path / "before.csv"
    log.write_text("Zeit;Tempo;Zeit.1;rpm\n0,0;50;0,5;4000\n1,0;51;0,6;4010\n", "utf-8")
    assert main(["check", str(log)]) == 0
    assert "  rows: 4 read, 2 with speed, 2 with engine speed\n" in capsys.readouterr().out


#: An invented machine: speed of each gear at 1000 rev/min, m/s.
LADDER_MPS = (1.9, 2.9, 3.8, 4.6)


def ride(factor: float, seed: int) -> str:
    """Four gears, each pulled through twice; speed five times a second, engine speed ten times, at other moments."""
    rng = np.random.default_rng(seed)
    knots = [(0.0, 3500.0, 0)]
    for number in (0, 1, 2, 3, 0, 1, 2, 3):
        start_s = knots[-1][0]
        knots += [(start_s + 0.5, 3000.0, number), (start_s + 12.0, 7000.0, number)]
    at_s, rpm, gears = np.array(knots).T
    speed_s, rpm_s = np.arange(0.0, at_s[-1], 0.2), np.arange(0.03, at_s[-1], 0.1)
    gear = np.searchsorted(at_s, speed_s, side="left").clip(0, at_s.size - 1)
    speed = np.array(LADDER_MPS)[gears.astype(int)[gear]] * factor * np.interp(speed_s, at_s, rpm) / 1000
    speed += rng.normal(0, 0.05, speed.size)
    shown = np.interp(rpm_s, at_s, rpm) + rng.normal(0, 8, rpm_s.size)
    left = ["time_speed_s,speed_mps", *(f"{t:.2f},{v:.3f}" for t, v in zip(speed_s, np.abs(speed), strict=True))]
    return side_by_side(left, ["time_rpm_s,rpm", *(f"{t:.2f},{n:.0f}" for t, n in zip(rpm_s, shown, strict=True))], ",")


def test_the_whole_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A front sprocket of 15 teeth after one of 16: 6.25 % less speed at the same engine speed."""
    for setup, factor, seed in (("before", 1.0, 1), ("after", 15 / 16, 2)):
        (tmp_path / f"{setup}.csv").write_text(ride(factor, seed))
    assert main(["report", str(tmp_path)]) == 0
    results = json.loads((tmp_path / "report" / "results.json").read_text())
    found = results["comparison"]["all_gears_change_percent"]
    assert found["lo95"] < -6.25 < found["hi95"]
    assert found["value"] == pytest.approx(-6.25, abs=0.2)
    gears = [gear["speed_per_1000rpm_mps"]["value"] for gear in results["setups"]["before"]["gears"]]
    assert gears == pytest.approx(LADDER_MPS, rel=0.01)
    assert capsys.readouterr().err == ""
