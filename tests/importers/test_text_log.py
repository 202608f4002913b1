"""Logs: times, units, values left out."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.errors import LogError, NoRowsError, UnitError
from tests.importers.conftest import Read


def test_a_plain_log(read: Read) -> None:
    log = read("time_s,speed_kmh,rpm\n10.0,36.0,3000\n10.5,72.0,3500\n11.5,108.0,4000\n")
    assert (log.kind, log.clock, log.start_s, log.speed_source) == ("log", "elapsed", 10.0, "wheel or logger")
    assert log.samples["time_s"].tolist() == [0.0, 0.5, 1.5]
    assert log.samples["speed_mps"].tolist() == pytest.approx([10.0, 20.0, 30.0])
    assert log.samples["engine_rpm"].tolist() == [3000, 3500, 4000]
    assert log.samples["row"].tolist() == [2, 3, 4]
    assert log.samples["speed_fresh"].all()
    assert log.notes == ()


def test_standard_errors_are_those_of_the_written_step(read: Read) -> None:
    rows = "".join(f"{k / 10:.1f},{20 + k * 0.5:.1f},{1000 + 250 * k}\n" for k in range(40))
    log = read("time_s,speed_kmh,rpm\n" + rows)
    assert log.speed_step_mps == pytest.approx(0.5 / 3.6)
    assert log.rpm_step_rpm == 250.0
    assert log.samples["speed_sd_mps"].to_numpy() == pytest.approx(0.5 / 3.6 / np.sqrt(12))
    assert log.samples["rpm_sd_rpm"].to_numpy() == pytest.approx(250 / np.sqrt(12))


@pytest.mark.parametrize(
    ("header", "cells", "clock", "start_s", "seconds"),
    [
        ("Time", ("23:59:59.500", "00:00:00.250"), "time of day", 86399.5, 0.75),
        ("Time", ("8:19:47.605", "8:19:47.696"), "time of day", 29987.605, 0.091),
        ("Time", ("14-Jul-2017 08:19:47.605", "14-Jul-2017 08:19:47.696"), "time of day", 29987.605, 0.091),
        ("time_utc", ("1558644851.0", "1558644852.5"), "utc", 1558644851.0, 1.5),
        ("timestamp", ("1558644851000", "1558644851250"), "utc", 1558644851.0, 0.25),
        ("Time", ("2019-05-23T22:54:11+02:00", "2019-05-23T22:54:11.5+02:00"), "utc", 1558644851.0, 0.5),
        ("Time", ("2019-05-23T20:54:11Z", "2019-05-23T20:54:12Z"), "utc", 1558644851.0, 1.0),
        ("time_utc", ("2019-05-23 20:54:11", "2019-05-23 20:54:12"), "utc", 1558644851.0, 1.0),
        ("Time", ("2024-05-01 12:00:00", "2024-05-01 12:00:02"), "time of day", 43200.0, 2.0),
        ("Time (ms)", ("1000", "1250"), "elapsed", 1.0, 0.25),
        ("time_min", ("1", "1.5"), "elapsed", 60.0, 30.0),
        ("time", ("5", "6"), "elapsed", 5.0, 1.0),
    ],
)
def test_times(read: Read, header: str, cells: tuple[str, str], clock: str, start_s: float, seconds: float) -> None:
    log = read(f"{header},rpm\n{cells[0]},1000\n{cells[1]},2000\n")
    assert log.clock == clock
    assert log.start_s == pytest.approx(start_s, abs=1e-6)
    assert log.samples["time_s"].tolist() == pytest.approx([0.0, seconds], abs=1e-6)


def test_numbers_that_may_be_milliseconds(read: Read) -> None:
    with pytest.raises(UnitError) as caught:
        read("time,rpm\n0,1000\n100,1100\n200,1200\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, column 'time': rows follow every 100, and the header does not say whether in seconds or milliseconds. "
        "Write time_s or time_ms as the header."
    )


def test_a_speed_without_unit(read: Read) -> None:
    with pytest.raises(UnitError) as caught:
        read("time_s,Speed\n0,10\n1,11\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, column 'Speed': the header states no unit of speed that is known; allowed are km/h, mph, m/s, knots "
        'and ft/s. Write speed_kmh or speed_mph (or speed_mps) as the header, or [columns] speed_unit = "km/h" (or '
        '"mph") in bike.toml.'
    )


def test_text_in_a_number_column(read: Read) -> None:
    log = read("time_s,speed_kmh,rpm\n0,10,1000\n1,fast,1100\n2,12,1200\n3,slow,1300\n4,14,1400\n")
    assert np.isnan(log.samples["speed_mps"]).tolist() == [False, True, False, True, False]
    assert log.samples["speed_fresh"].tolist() == [True, False, True, False, True]
    assert log.samples["engine_rpm"].notna().all()
    assert log.notes == (
        "Line 3, column 'speed_kmh': 'fast' is no number, and 1 more such; left out, 3 other values of the column "
        "kept.",
    )


def test_impossible_values(read: Read) -> None:
    log = read("time_s,speed_kmh,rpm\n0,-5,1000\n1,11,1100\n2,12,31000\n")
    assert np.isnan(log.samples["speed_mps"]).tolist() == [True, False, False]
    assert log.notes == (
        "Line 2, column 'speed_kmh': -5 is outside 0 to 540 km/h; left out, 2 other values of the column kept.",
        "Line 4, column 'rpm': 31000 is outside 0 to 30000 rpm; left out, 2 other values of the column kept.",
    )


def test_a_column_that_is_mostly_text(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("time_s,rpm\n0,a\n1,b\n2,1200\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, line 2, column 'rpm': 'a' and 1 more of 3 cells hold no usable number; allowed is 0 to 30000 rpm. "
        "Correct the column or its header."
    )


def test_thousands_that_nobody_stated(read: Read) -> None:
    with pytest.raises(UnitError) as caught:
        read("time_s;rpm\n0;5,0\n1;6,0\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, column 'rpm': the highest engine speed is 6 rpm, which is no running engine. Write rpm_x1000, "
        "rpm_x100, rpm_hz (turns a second) or rpm_rad/s as the header where the values are that, or write the "
        "numbers without a separator for thousands (5000)."
    )
    for header in ("rpm_x1000", "rpm"):  # either way 5,000 is 5000 rev/min
        log = read(f"time_s;{header}\n0;5,000\n1;6,000\n")
        assert log.samples["engine_rpm"].tolist() == [5000.0, 6000.0]


def test_a_row_with_no_time(read: Read) -> None:
    log = read("time_s,rpm\n0,1000\nx,1100\n2,1200\n")
    assert log.samples["row"].tolist() == [2, 4]
    assert log.notes == (
        "1 row without a readable time left out (the first is line 3; seconds, HH:MM:SS (or with AM/PM), ISO 8601 "
        "(2024-05-01T12:00:00Z) or Unix time).",
    )


def test_times_that_are_none(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("Time,rpm\nnoon,1000\nlater,1100\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, line 2, column 'Time': 'noon' is no time; allowed is seconds, HH:MM:SS (or with AM/PM), ISO 8601 "
        "(2024-05-01T12:00:00Z) or Unix time. Write the times in one of these forms."
    )


def test_rows_out_of_order_and_repeated(read: Read) -> None:
    log = read("time_s,rpm\n0,1000\n2,1200\n1,1100\n2,1200\n2,1250\n3,1300\n")
    assert log.samples["row"].tolist() == [2, 4, 3, 6, 7]
    assert log.samples["time_s"].tolist() == [0, 1, 2, 2, 3]
    assert log.notes == ("1 row out of order put in order of time.", "1 row wholly like an earlier row left out.")


def test_a_clock_that_restarts(read: Read) -> None:
    rows = [f"{k},{1000 + k}\n" for k in (*range(1000), *range(30))]
    with pytest.raises(LogError) as caught:
        read("time_s,rpm\n" + "".join(rows), "a.csv")
    assert str(caught.value) == (
        "a.csv, line 1002: the time runs backwards from here in 30 rows; allowed is one recording a file. "
        "Split the file here."
    )


def test_the_receiver_is_preferred_and_the_choice_told(read: Read) -> None:
    log = read("time_s,Vehicle speed (km/h),GPS speed (mph)\n0,50,31\n1,51,32\n")
    assert log.samples["speed_mps"].tolist() == pytest.approx([31 * 0.44704, 32 * 0.44704])
    assert log.speed_source == "receiver"
    assert log.notes == (
        "Column 'GPS speed (mph)' is used and 'Vehicle speed (km/h)' is not, as both give the same quantity.",
    )


def test_an_empty_receiver_column_leaves_the_wheel(read: Read) -> None:
    log = read("time_s,Vehicle speed (km/h),GPS speed (mph)\n0,36,\n1,72,\n")
    assert log.samples["speed_mps"].tolist() == pytest.approx([10, 20])
    assert log.speed_source == "machine"


def test_only_indicated_speeds(read: Read) -> None:
    log = read("time_s,indicated_kmh,rpm\n0,36,1000\n1,72,2000\n")
    assert log.speed_source == "speedometer"
    assert log.samples["speed_mps"].tolist() == log.samples["indicated_mps"].tolist() == pytest.approx([10, 20])
    assert log.notes == ("The only speeds are those that the speedometer showed.",)


def test_neutral_is_no_gear(read: Read) -> None:
    log = read("time_s,rpm,gear\n0,1000,N\n1,1100,0\n2,1200,2\n")
    assert np.isnan(log.samples["stated_gear"]).tolist() == [True, True, False]
    assert log.notes == ()


def test_header_only(read: Read) -> None:
    with pytest.raises(NoRowsError) as caught:
        read("time_s,rpm\n\n", "a.csv")
    assert str(caught.value) == ("a.csv: there is a header and no rows yet. Fill in the sheet, or remove the file.")


def test_positions_alone_are_no_log(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("time_s,lat,lon\n0,50,10\n", "a.csv")
    assert str(caught.value) == (
        "a.csv: the filled columns (time_s, lat, lon) make no log; allowed is time with speed or rpm, rpm with speed, "
        "gear with rpm, indicated speed with speed, gear or repeat, from, to and time_s, or odometer_start and "
        "odometer_end. Add or fill in the missing column."
    )


def test_decimal_commas_between_commas(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("time_s,rpm\n0,5,1000\n1,5,1100\n", "a.csv")
    assert str(caught.value) == (
        "a.csv, line 2: there are more cells than the 2 headers in 2 of 2 rows. With a decimal comma, use the "
        "semicolon or the tab between the cells."
    )


def test_an_open_quotation_mark(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read('time_s,rpm\n0,"1000\n1,1100\n', "a.csv")
    assert str(caught.value) == (
        "a.csv: a quotation mark is opened and never closed. Remove quotation marks from the file."
    )


def test_the_time_column_that_can_be_read(read: Read) -> None:
    log = read("GPS Time,Device Time,rpm\nsome time,08:00:00,1000\nlater,08:00:01,1100\n")
    assert (log.clock, log.start_s) == ("time of day", 28800.0)
    assert log.notes == ("Column 'Device Time' is used and 'GPS Time' is not, as both give the same quantity.",)


def test_absolute_times_come_before_others(read: Read) -> None:
    log = read("time_s,time_utc,rpm\n0,1558644851,1000\n1,1558644852,1100\n")
    assert (log.clock, log.start_s) == ("utc", 1558644851.0)


def test_no_value_in_any_row_that_has_a_time(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("time_s,rpm\n0,\n1,\n,1000\n", "a.csv")
    assert str(caught.value) == "a.csv: no row holds a speed or an engine speed. Record the ride again."
