"""Rides that begin and end in gear: no sample has a gear without the engine speed that shows it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest

from gearfit.fitting.gathering.streams import NO_RPM, SAME_TIME, gather
from gearfit.fitting.setup_fit import fit_setup, sample_frame
from gearfit.fitting.which_gear.ladder import from_teeth
from gearfit.records.recording import Recording
from gearfit.records.schema import run_table, sample_table
from tests.simulator.machine import Machine
from tests.simulator.machines import commuter_twin, trail_bike
from tests.simulator.ride import TrueRide
from tests.simulator.scripts import ten_minute_ride

MACHINES = (trail_bike, commuter_twin)


@cache
def ride(build: Callable[[str], Machine]) -> TrueRide:
    return ten_minute_ride(np.random.default_rng(4), build("before"), duration_s=240.0)


def recording(true: TrueRide, rate_hz: float, lag_s: float, from_s: float, rng: np.random.Generator) -> Recording:
    """A log of a minute, switched on and off while riding; the engine speed leads by `lag_s`."""
    time_s = np.arange(0.0, 60.0, 1 / rate_hz)
    at_s = from_s + time_s
    n = time_s.size
    return Recording(
        file="log.csv",
        kind="log",
        samples=sample_table(
            "log.csv",
            n,
            time_s=np.round(time_s, 3),
            speed_mps=np.abs(np.interp(at_s - lag_s, true.time_s, true.speed_mps) + rng.normal(0, 0.05, n)),
            engine_rpm=np.interp(at_s, true.time_s, true.engine_rpm) * (1 + rng.normal(0, 0.002, n)),
        ),
        runs=run_table("log.csv", 0),
        clock="elapsed",
        start_s=0.0,
        speed_source="receiver",
        speed_step_mps=None,
        rpm_step_rpm=None,
        columns=(),
        notes=(),
    )


@pytest.mark.parametrize("rate_hz", [2.0, 5.0, 10.0, 25.0])
@pytest.mark.parametrize("intervals", [-1, 0, 1, 2, 4])
def test_no_gear_without_an_engine_speed(rate_hz: float, intervals: int) -> None:
    """Lags about a multiple of the interval decide whether the first and the last sample find an engine speed."""
    in_gear = []
    for seed in range(6):
        rng = np.random.default_rng([seed, intervals + 1])
        build = MACHINES[seed % 2]
        true, bike = ride(build), build("before").bike
        lag_s = min(intervals / rate_hz, 1.0) + float(rng.uniform(-0.003, 0.003))
        log = recording(true, rate_hz, lag_s, float(rng.uniform(20.0, 175.0)), rng)
        frame = sample_frame(fit_setup(gather([log]), from_teeth(bike, bike.setup("before"))))
        found = frame["gear"].notna()
        assert frame.loc[found, "engine_rpm"].notna().all()
        assert frame.loc[frame["left_out"] == NO_RPM, "engine_rpm"].isna().all()
        in_gear.append(int(found.sum()))
    assert sum(count > 0 for count in in_gear) >= 3


def test_stamps_that_repeat_with_other_readings_are_excluded_and_counted() -> None:
    """A logger that writes two readings with one time ended the report in a traceback; the first of them counts."""
    log = recording(ride(trail_bike), 10.0, 0.1, 60.0, np.random.default_rng(4))
    again = log.samples.iloc[::50].assign(speed_mps=lambda rows: rows["speed_mps"] + 0.03)
    both = pd.concat([log.samples, again]).sort_values("time_s", kind="stable").reset_index(drop=True)
    material = gather([replace(log, samples=both)])
    assert (np.diff(material.streams[0].time_s) > 0).all()
    assert (np.diff(material.tracks[0].time_s) > 0).all()
    assert int(np.sum(material.reasons == SAME_TIME)) == len(again)
