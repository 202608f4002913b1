"""Runs found in a ride with the machine's own speed are compared only where that speed is known to see the teeth."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gearfit.comparison.comparable_runs import comparable_runs
from gearfit.machine.bike import Bike, SpeedometerSpec
from gearfit.records.estimate import Estimate
from gearfit.records.results import SetupResult, TimedSpan
from tests.report.example import one_setup

STAYED, FOLLOWED = Estimate(0.0, 0.05, -0.1, 0.1), Estimate(-6.2, 0.05, -6.3, -6.1)
TIME = Estimate(5.0, 0.1, 4.8, 5.2)
RUNS = (TimedSpan("a.csv", 0.0, 20.0, None, TIME), TimedSpan("log.csv", 0.0, 20.0, 30.0, TIME, kind="ride"))


def result(source: str) -> SetupResult:
    return replace(one_setup().setups[0], speed_source=source, timed_spans=RUNS)


@pytest.mark.parametrize(
    ("sources", "driven_from", "change", "predicted", "found"),
    [
        (("receiver", "receiver"), "gearbox output", STAYED, -6.25, 2),
        (("machine", "machine"), "gearbox output", STAYED, -6.25, 1),
        (("machine", "machine"), "unknown", STAYED, -6.25, 1),
        (("machine", "machine"), "unknown", None, -6.25, 1),
        (("machine", "machine"), "unknown", FOLLOWED, -6.25, 2),
        (("machine", "machine"), "rear wheel", STAYED, -6.25, 2),
        (("machine", "machine"), "unknown", STAYED, 0.0, 2),
        (("machine", "machine"), "unknown", STAYED, None, 2),
        (("machine", "receiver"), "rear wheel", FOLLOWED, -6.25, 1),
    ],
)
def test_which_runs_count(
    sources: tuple[str, str], driven_from: str, change: Estimate | None, predicted: float | None, found: int
) -> None:
    bike = Bike(speedometer=SpeedometerSpec(driven_from=driven_from))
    runs = comparable_runs(bike, result(sources[0]), result(sources[1]), change, predicted)
    assert [len(side) for side in runs] == [found, found]
    assert all(side[0].kind == "stopwatch" for side in runs), "runs timed by hand always count"
