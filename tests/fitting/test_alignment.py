"""Clocks of separate recorders, found from simulated rides."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.pairing.alignment import LEAST_LEAD, Alignment, align
from gearfit.records.recording import Recording
from tests.simulator.instruments import RpmChannel, SpeedChannel
from tests.simulator.machine import Machine
from tests.simulator.machines import close_ratio_single, trail_bike
from tests.simulator.recorder import observe_rpm_log, observe_track
from tests.simulator.ride import TrueRide
from tests.simulator.scripts import city_ride, ten_minute_ride

RECEIVER = SpeedChannel(rate_hz=5.0)
ENGINE = RpmChannel(rate_hz=10.0)
#: Lead of the engine-speed channel in these recordings, s.
LAG_S = RECEIVER.latency_s - ENGINE.lag_s


def recorded(ride: TrueRide, other: TrueRide, seed: int) -> tuple[Recording, Recording]:
    rng = np.random.default_rng(seed)
    return observe_track(ride, RECEIVER, rng).recording, observe_rpm_log(other, ENGINE, rng).recording


def ridden(script: Callable[..., TrueRide], machine: Machine, seed: int) -> TrueRide:
    return script(np.random.default_rng(seed), machine, duration_s=400.0)


def aligned(track: Recording, log: Recording, clock_error_s: float, reach_s: float) -> Alignment | None:
    assert track.start_s is not None
    assert log.start_s is not None
    return align(
        track.samples["time_s"].to_numpy(),
        track.samples["speed_mps"].to_numpy(),
        log.samples["time_s"].to_numpy() + log.start_s - track.start_s - clock_error_s,
        log.samples["engine_rpm"].to_numpy(),
        -reach_s,
        reach_s,
    )


@pytest.mark.parametrize("script", [ten_minute_ride, city_ride])
@pytest.mark.parametrize("build", [trail_bike, close_ratio_single])
@pytest.mark.parametrize(("clock_error_s", "reach_s"), [(-41.37, 60.0), (2411.83, 3600.0)])
def test_the_offset_is_found(
    script: Callable[..., TrueRide], build: Callable[[], Machine], clock_error_s: float, reach_s: float
) -> None:
    ride = ridden(script, build(), 11)
    found = aligned(*recorded(ride, ride, 12), clock_error_s, reach_s)
    assert found is not None
    assert found.unique
    assert found.offset_s == pytest.approx(clock_error_s + LAG_S, abs=0.11)


def test_recordings_of_two_rides_have_no_offset() -> None:
    for seed in range(4):
        one, two = (ridden(ten_minute_ride, trail_bike(), 100 + 2 * seed + k) for k in (0, 1))
        found = aligned(*recorded(one, two, seed), 0.0, 3600.0)
        assert found is None or found.lead < LEAST_LEAD


def test_a_logger_that_counts_from_zero_is_joined() -> None:
    ride = ridden(ten_minute_ride, trail_bike(), 21)
    track, log = recorded(ride, ride, 22)
    start_s = (log.start_s or 0) - (track.start_s or 0)
    late = log.samples[log.samples["time_s"] >= 50.0].copy()
    late["time_s"] -= late["time_s"].iloc[0]
    material = gather([track, replace(log, clock="elapsed", start_s=0.0, samples=late.reset_index(drop=True))])
    (stream,) = material.streams
    assert stream.rpm_time_s[0] == pytest.approx(start_s + 50.0 + LAG_S, abs=0.11)
    assert material.problems == ()
    assert material.remarks == (
        f"track.gpx and rpm.csv keep different clocks; the ride itself shows that rpm.csv begins "
        f"{stream.rpm_time_s[0]:.1f} s after track.gpx",
    )


def test_a_clock_that_is_set_wrong_is_put_right() -> None:
    ride = ridden(ten_minute_ride, trail_bike(), 31)
    track, log = recorded(ride, ride, 32)
    right = gather([track, log])
    assert right.remarks == ()
    wrong = gather([track, replace(log, start_s=(log.start_s or 0) + 25.0)])
    assert wrong.streams[0].rpm_time_s[0] == pytest.approx(right.streams[0].rpm_time_s[0] + LAG_S, abs=0.11)
    (remark,) = wrong.remarks
    assert remark.startswith("the clocks of track.gpx and rpm.csv differ by 24.")
    assert remark.endswith(" s, as the ride itself shows; this was taken out")


def test_two_rides_are_not_joined() -> None:
    one, two = (ridden(ten_minute_ride, trail_bike(), seed) for seed in (41, 42))
    track, log = recorded(one, two, 43)
    material = gather([track, replace(log, clock="elapsed", start_s=0.0)])
    assert material.streams == ()
    assert material.problems == (
        "track.gpx and rpm.csv keep different clocks, and the ride does not show by how much they differ (no offset "
        "stands out): write the log's time as UTC date and time (2026-05-01T09:30:00Z) or as Unix seconds, and check "
        "that both belong to one ride",
    )


def two_files(begin_s: float, length_s: float) -> tuple[Recording, Recording]:
    """Speeds and engine speeds of twenty seconds, each counted from the start of its file."""
    ride = ridden(ten_minute_ride, trail_bike(), 51)
    track, log = recorded(ride, ride, 52)
    parts = []
    for one, from_s, until_s in ((track, 40.0, 60.0), (log, 40.0 + begin_s, 40.0 + begin_s + length_s)):
        at_s = one.samples["time_s"] + (one.start_s or 0) - (track.start_s or 0)
        samples = one.samples[(at_s >= from_s) & (at_s <= until_s)].copy()
        samples["time_s"] -= samples["time_s"].iloc[0]
        parts.append(replace(one, kind="log", clock="elapsed", start_s=0.0, samples=samples.reset_index(drop=True)))
    return parts[0], parts[1]


def test_two_files_of_one_logger_are_joined() -> None:
    """The same start and the same length tell; twenty seconds show no offset by themselves."""
    material = gather([*two_files(0.0, 20.0)])
    (stream,) = material.streams
    assert stream.engine_shift_s == 0.0
    assert material.problems == ()
    assert material.remarks == (
        "track.gpx and rpm.csv were taken to keep one clock, as they count from the same start and last equally long; "
        "if they do not, write the times of both as date and time",
    )


def test_recorders_started_together_are_joined_where_it_is_stated() -> None:
    pair = two_files(0.0, 14.0)
    (problem,) = gather([*pair]).problems
    assert problem.endswith(
        "check that both belong to one ride. If both recorders were started together, write same_clock = true into "
        "bike.toml, above its tables"
    )
    material = gather([*pair], same_clock=True)
    assert [stream.engine_shift_s for stream in material.streams] == [0.0]
    assert material.remarks == (
        "track.gpx and rpm.csv were taken to keep one clock, as bike.toml says (same_clock = true)",
    )
