"""Two recorders that count from their own starts, and a ride too short for its ratios to crowd: the ladder tells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from gearfit.fitting.gathering.ladder_alignment import offset_by_ladder
from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.pairing.stream import Stream
from gearfit.records.recording import Recording
from tests.validation.short_pulls import Case, case


def pull(seed: int) -> tuple[Case, Stream]:
    """A pull of twenty seconds whose two channels kept one clock."""
    found = case(seed)
    (stream,) = gather([found.recording]).streams
    return found, stream


def test_the_offset_is_found_or_nothing_is_said() -> None:
    """To half a second, the lag of the receiver included: the fit does the rest. 94 of 100 are found, none wrongly."""
    rng = np.random.default_rng(1)
    errors_s = []
    for seed in range(5000, 5008):
        found, stream = pull(seed)
        ahead_s = float(rng.uniform(-8, 8))
        offset_s = offset_by_ladder(replace(stream, rpm_time_s=stream.rpm_time_s + ahead_s), found.ladder)
        errors_s += [] if offset_s is None else [offset_s + ahead_s - found.lag_s]
    assert len(errors_s) >= 7
    assert np.abs(errors_s).max() < 0.5


def test_another_machine_s_ladder_finds_nothing() -> None:
    """Ratios that lie nowhere on it are no evidence."""
    found, stream = pull(5000)
    even = replace(found.ladder, log_ratio=np.linspace(0, -0.2, 9))
    assert offset_by_ladder(stream, even) is None


def test_a_folder_s_two_files_are_paired_by_it() -> None:
    """As it is found where both files count seconds from their own start."""
    found, stream = pull(5003)
    speeds, engine = apart(found.recording, stream, 5.0)
    without = gather([speeds, engine])
    assert not without.streams
    material = gather([speeds, engine], ladder=found.ladder)
    (paired,) = material.streams
    assert paired.engine_shift_s == pytest.approx(found.lag_s - 5.0, abs=0.5)
    assert "the ride itself shows" in material.remarks[0]


def apart(recording: Recording, stream: Stream, ahead_s: float) -> tuple[Recording, Recording]:
    """Split one log into a track and an engine-speed log whose clock is ahead."""
    speeds, engine = recording.samples.copy(), recording.samples.copy()
    speeds["engine_rpm"], speeds["rpm_fresh"] = np.nan, False
    engine["speed_mps"], engine["speed_fresh"] = np.nan, False
    engine["time_s"] = engine["time_s"] + ahead_s
    track = replace(recording, file="track.csv", kind="track", samples=speeds, clock="elapsed")
    return track, replace(recording, file="engine.csv", samples=engine, clock="elapsed", speed_source="none")
