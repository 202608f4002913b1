"""Standing starts in a real drive: a receiver at 1 Hz and a tactical-grade reference in the same car.

Source: google/gps-measurement-tools, NmeaUtils example, Apache-2.0.
"""

from __future__ import annotations

import pytest

from gearfit.importers import read_log
from gearfit.importers.common.options import ReadOptions
from gearfit.timed.asked import Span
from gearfit.timed.find import FoundRuns, runs_in
from gearfit.timed.noise import noise_in
from gearfit.timed.trace import make_trace
from tests.outside import outside_data

SPAN = Span(0.0, 50 / 3.6)


def starts(ending: str) -> tuple[FoundRuns, float]:
    (path,) = outside_data("gnss_nmea").glob(f"*.{ending}")
    recording = read_log(path, options=ReadOptions(accept_bad_checksums=True))
    s = recording.samples
    trace = make_trace(s["time_s"].to_numpy(), s["speed_mps"].to_numpy(), clock="utc", start_s=recording.start_s or 0.0)
    return runs_in([trace], [noise_in(trace, None)], [SPAN]), recording.start_s or 0.0


def test_receiver_and_reference_time_the_same_starts_alike() -> None:
    """Four starts to 50 km/h count in both, and their times agree within 0.1 s.

    Seven rises from standing to 50 km/h are in both logs. Two took more than 2.5 times the quickest: ordinary riding.
    One is left out in both, for reasons of their own: the receiver lost its signal for 10 s on the way (six remain in
    its log if that one is not counted), the reference saw that it was ridden gently. One more rise ended at 42 km/h.
    """
    (receiver, a), (reference, b) = starts("nmea"), starts("gga")
    begun = [[(run.start_s or 0.0) + offset for run in one.timed] for one, offset in ((receiver, a), (reference, b))]
    assert len(begun[0]) == 4
    assert begun[0] == pytest.approx(begun[1], abs=0.2)
    for one, other in zip(receiver.timed, reference.timed, strict=True):
        assert one.time_s.value == pytest.approx(other.time_s.value, abs=0.1)
        assert one.time_s.contains(other.time_s.value)
    assert [run.reason for run in receiver.left_out] == [
        "aborted at 42 km/h",
        "interrupted: no sample for 10.0 s, in which the speed changed by 22 km/h",
    ]
    assert [run.reason for run in reference.left_out] == [
        "aborted at 42 km/h",
        "part throttle: 60 % of the hardest acceleration",
    ]
