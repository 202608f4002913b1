"""Recordings of one setup paired up: what is used, and why the rest is not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gearfit.errors import LogError
from gearfit.fitting.gathering import streams
from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.pairing.material import Material
from gearfit.fitting.setup_fit import demand_use, fit_setup, gather_setup, sample_frame
from gearfit.machine.bike import Setup
from gearfit.records.recording import NO_READING, UNREAD_GEAR, Clock, Kind, Recording, RideSetup, SpeedSource
from gearfit.records.schema import run_table, sample_table

UTC_S = 1_700_000_000.0


def recording(
    file: str,
    kind: Kind,
    n: int,
    *,
    clock: Clock = "utc",
    start_s: float | None = UTC_S,
    source: SpeedSource = "receiver",
    step_s: float = 0.1,
    **columns: Any,
) -> Recording:
    timed = kind in ("track", "log")
    given = ({"time_s": step_s * np.arange(n)} if timed else {}) | columns
    return Recording(
        file=file,
        kind=kind,
        samples=sample_table(file, n, **given),
        runs=run_table(file, 0),
        clock=clock if timed else "none",
        start_s=start_s if timed else None,
        speed_source=source,
        speed_step_mps=None,
        rpm_step_rpm=None,
        columns=(),
        notes=(),
    )


def track(n: int = 50, **more: Any) -> Recording:
    return recording("ride.gpx", "track", n, step_s=1.0, speed_mps=np.linspace(5, 20, n), **more)


def rpm_log(n: int = 500, **more: Any) -> Recording:
    return recording("rpm.csv", "log", n, engine_rpm=np.linspace(2000, 8000, n), **({"source": "none"} | more))


def both_log(n: int = 100, **more: Any) -> Recording:
    columns = {"speed_mps": np.full(n, 10.0), "engine_rpm": np.full(n, 4000.0)} | more
    return recording("log.csv", "log", n, clock="elapsed", start_s=0.0, source="wheel or logger", **columns)


def reasons(material: Material, file: str) -> set[str]:
    return set(material.reasons[(material.table["file"] == file).to_numpy()].tolist())


def test_one_log_with_both() -> None:
    found = gather([both_log()])
    (stream,) = found.streams
    assert stream.rows.tolist() == list(range(100))
    assert stream.rpm_at_speed(0.0) == pytest.approx(4000)
    assert (reasons(found, "log.csv"), found.problems, found.sheet.rows.size) == ({""}, (), 0)


def test_two_recorders_joined_by_utc() -> None:
    """The engine recorder started 3.2 s after the receiver; its engine speed rises by 12 rev/min in a sample."""
    log = rpm_log(start_s=UTC_S + 3.2)
    found = gather([track(), log])
    (stream,) = found.streams
    assert (stream.file, stream.rows.tolist()) == ("ride.gpx", list(range(50)))
    paired = stream.rpm_at_speed(0.0)
    assert np.isnan(paired[:4]).all()
    assert np.isfinite(paired[4:]).all()
    # Smoothed by a straight line in the logarithm, which bends a straight rise by its curvature: some 1e-5.
    assert paired[10] == pytest.approx(2000 + 6000 / 49.9 * (10 - 3.2), rel=1e-4)
    assert stream.rpm_at_speed(0.5)[10] == pytest.approx(2000 + 6000 / 49.9 * (10 - 3.2 - 0.5), rel=1e-4)
    assert reasons(found, "rpm.csv") == {streams.JOINED}


def test_a_log_of_speeds_is_joined_as_well() -> None:
    speeds = recording("gps.csv", "log", 50, step_s=1.0, speed_mps=np.linspace(5, 20, 50))
    found = gather([speeds, rpm_log()])
    assert [stream.file for stream in found.streams] == ["gps.csv"]
    assert reasons(found, "rpm.csv") == {streams.JOINED}


def test_a_receivers_speed_replaces_that_of_the_log() -> None:
    found = gather([track(), rpm_log(speed_mps=np.full(500, 9.0), source="wheel or logger")])
    assert [stream.file for stream in found.streams] == ["ride.gpx"]
    assert reasons(found, "rpm.csv") == {streams.REPLACED}


def test_the_engine_log_that_overlaps_most_is_taken() -> None:
    short = replace(rpm_log(50), file="short.csv")
    found = gather([track(), short, rpm_log()])
    assert found.streams[0].engine_rpm.size == 500


def test_no_overlap() -> None:
    found = gather([track(), rpm_log(start_s=UTC_S + 7200)])
    assert found.streams == ()
    assert found.problems == (
        "ride.gpx and rpm.csv do not overlap in time: check the clocks, and whether both belong to this setup",
    )


def test_different_clocks() -> None:
    found = gather([track(), rpm_log(clock="elapsed", start_s=0.0)])
    assert found.problems == (
        "ride.gpx and rpm.csv keep different clocks, and the ride does not show by how much they differ (no offset "
        "stands out): write the log's time as UTC date and time (2026-05-01T09:30:00Z) or as Unix seconds, and check "
        "that both belong to one ride",
    )


def test_a_track_alone() -> None:
    assert gather([track()]).problems == (
        "ride.gpx has speeds but no engine speed, and no log of this setup has any: add an rpm log or a sheet of "
        "readings",
    )


def test_engine_speed_alone() -> None:
    assert gather([rpm_log()]).problems == (
        "rpm.csv holds engine speed only, and no file of this setup holds the speeds to it",
    )


def test_a_setup_with_nothing_of_use_is_an_error() -> None:
    """Speeds alone may still show runs: what is of no other use is an error once there are none."""
    setup = Setup("before")
    apart = RideSetup(setup, (track(), rpm_log(start_s=UTC_S + 7200)))
    material = gather_setup(apart)
    assert not material.streams
    with pytest.raises(LogError) as caught:
        demand_use(apart, material)
    assert str(caught.value) == (
        "setup before: ride.gpx and rpm.csv do not overlap in time: check the clocks, and whether both belong to this "
        "setup. Then run the report again."
    )
    held = recording("held.csv", "held rpm", 3, source="none", engine_rpm=[3000.0] * 3, stated_gear=[1.0, 2, 3])
    with pytest.raises(LogError) as caught:
        gather_setup(RideSetup(setup, (held,)))
    assert str(caught.value) == (
        "setup before: no sample has both a speed and an engine speed. Add a log with both, or a sheet with the "
        "columns gear, rpm and speed_kmh or speed_mph."
    )


def test_held_values_are_not_used() -> None:
    n = 100
    fresh = np.arange(n) % 10 == 0
    found = gather([both_log(n, speed_fresh=fresh, rpm_fresh=np.roll(fresh, -1))])
    (stream,) = found.streams
    assert stream.rows.tolist() == np.flatnonzero(fresh).tolist()
    assert stream.rpm_time_s.size == 10
    assert set(found.reasons[~fresh]) == {streams.HELD}


def test_rows_without_a_speed_and_rows_of_a_sheet_with_a_gap() -> None:
    speed = np.full(100, 10.0)
    speed[40:60] = np.nan
    found = gather([both_log(speed_mps=speed)])
    assert set(found.reasons[40:60]) == {streams.NO_SPEED}
    sheet = recording(
        "holds.csv", "samples", 3, source="hand", speed_mps=[10.0, 12, np.nan], engine_rpm=[3000.0, np.nan, 3000]
    )
    found = gather([sheet])
    assert found.reasons.tolist() == ["", streams.NO_RPM, streams.HELD_RPM_SHEET]
    assert found.sheet.rows.tolist() == [0]


def test_the_step_of_each_reading_reaches_the_fit() -> None:
    two: dict[str, Any] = {
        "speed_mps": [10.0, 12.0],
        "engine_rpm": [3000.0, 3600.0],
        "rpm_sd_rpm": [14.4, 14.4],
    }
    coarse = replace(recording("a.csv", "samples", 2, source="hand", **two), speed_step_mps=0.5, rpm_step_rpm=50.0)
    found = gather([coarse, recording("b.csv", "samples", 2, source="hand", **two)]).sheet
    assert found.speed_step_mps.tolist() == pytest.approx([0.5, 0.5, np.nan, np.nan], nan_ok=True)
    assert found.rpm_step_rpm.tolist() == pytest.approx([50.0, 50.0, np.nan, np.nan], nan_ok=True)
    assert found.rpm_sd_rpm.tolist() == [14.4] * 4, "the error of reading is not widened on the way"


def test_rows_that_the_reader_left_out_never_reach_the_fit() -> None:
    """Neither as rows without a gear nor as held engine speeds that look for a speed."""
    columns: dict[str, Any] = {"speed_mps": [10.0, 12.0, np.nan], "engine_rpm": [3000.0] * 3}
    columns["stated_gear"] = [2, np.nan, 3]
    sheet = recording("a.csv", "samples", 3, source="hand", **columns)
    sheet = replace(sheet, left_out={1: UNREAD_GEAR, 2: NO_READING})
    found = gather([both_log(), sheet])
    assert found.reasons[100:].tolist() == ["", UNREAD_GEAR, NO_READING]
    assert found.sheet.rows.tolist() == [100]


def test_a_sheet_of_held_engine_speeds() -> None:
    held = recording("held.csv", "held rpm", 3, source="none", engine_rpm=[3000.0] * 3, stated_gear=[1.0, 2, 3])
    assert reasons(gather([both_log(), held]), "held.csv") == {streams.HELD_RPM_SHEET}


def test_speedometer_readings_give_way_to_measured_speeds() -> None:
    shown = recording(
        "dash.csv", "samples", 2, source="speedometer", speed_mps=[11.0, 12], indicated_mps=[11.0, 12],
        engine_rpm=[4000.0, 4000],
    )  # fmt: skip
    found = gather([both_log(), shown])
    assert reasons(found, "dash.csv") == {streams.SHOWN_ONLY}
    assert found.sheet.rows.size == 0
    alone = gather([shown])
    assert alone.sheet.rows.tolist() == [0, 1], "alone they are better than nothing"


def test_engine_speed_is_not_bridged_over_a_gap() -> None:
    log = rpm_log()
    gap = log.samples[(log.samples["time_s"] < 20) | (log.samples["time_s"] > 30)].reset_index(drop=True)
    (stream,) = gather([track(), replace(log, samples=gap)]).streams
    missing = np.flatnonzero(np.isnan(stream.rpm_at_speed(0.0)))
    assert missing.tolist() == list(range(20, 31))


def test_reasons_after_the_fit() -> None:
    """Standing, no engine speed at that moment, no gear; every row has a gear or a reason."""
    n = 600
    time_s = 0.1 * np.arange(n)
    speed = np.interp(time_s, [0, 5, 10, 50, 60], [0, 0, 8, 20, 20])
    rpm = 300.0 * speed + 1.0
    rpm[500:] = np.linspace(6000, 3500, 100)
    log = both_log(n, speed_mps=speed, engine_rpm=np.where(np.arange(n) < 480, rpm, np.nan))
    ride = RideSetup(Setup("before"), (log,))
    frame = sample_frame(fit_setup(gather_setup(ride), None))
    assert set(frame["left_out"][:50]) == {streams.STANDING}
    assert set(frame["left_out"][482:]) == {streams.NO_RPM}
    assert ((frame["left_out"] == "") == frame["gear"].notna()).all()
