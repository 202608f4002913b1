"""Which passes are planned, and what is missing after a ride."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from gearfit.errors import InputError
from gearfit.prediction.basis import on_paper
from gearfit.prediction.planning.noise import RECEIVER_SD_MPS, assumed_display, assumed_log, of_ride
from gearfit.prediction.planning.plan import Wanted, hold_rpms, plan_gears
from gearfit.prediction.planning.starts import plan_starts
from gearfit.records.results import Estimate, TimedSpan
from gearfit.units import MPS_PER_KMH, MPS_PER_MPH
from gearfit.wording.missing_for_plan import still_missing
from tests.prediction.machines import BIKE, SETUP
from tests.report import example

GEARING = on_paper(BIKE, SETUP, "bike.toml")


def run(time_s: float, to_mps: float = 80 * MPS_PER_KMH) -> TimedSpan:
    return TimedSpan("timed.csv", 0.0, to_mps, None, Estimate(time_s, 0.1, time_s - 0.2, time_s + 0.2))


def test_each_pass_holds_another_engine_speed_within_engine_and_law() -> None:
    rpms = hold_rpms(4.0, 10500, Wanted(100 * MPS_PER_KMH), 4)
    assert rpms == [6750, 6500, 6250, 6000]
    slow = hold_rpms(4.0, 10500, Wanted(50 * MPS_PER_KMH), 4)
    assert slow == [3250, 3000, 2750, 3250]
    assert max(slow) * 4.0 / 1000 <= 50 * MPS_PER_KMH
    assert hold_rpms(4.0, 10500, Wanted(100 * MPS_PER_KMH, 5000), 2) == [5000, 4750]
    assert hold_rpms(4.0, None, Wanted(100 * MPS_PER_KMH), 2) == [5000, 4750]
    assert hold_rpms(4.0, 10500, Wanted(30 * MPS_PER_KMH), 2) == []


def test_no_planned_speed_is_above_the_highest_now_or_after() -> None:
    gears = plan_gears(GEARING, 10.0, assumed_log(), 10500, Wanted(90 * MPS_PER_KMH))
    assert max(speed for gear in gears for speed in gear.now_mps + gear.after_mps) <= 90 * MPS_PER_KMH
    for gear in gears:
        assert gear.after_mps == pytest.approx([1.1 * speed for speed in gear.now_mps])


def test_gears_too_fast_for_the_law_are_left_out_and_none_at_all_is_refused() -> None:
    gears = plan_gears(GEARING, -5.0, assumed_log(), 10500, Wanted(30 * MPS_PER_KMH))
    assert [gear.gear for gear in gears] == [1, 2, 3, 4]
    with pytest.raises(InputError) as caught:
        plan_gears(GEARING, -5.0, assumed_log(), 10500, Wanted(10 * MPS_PER_KMH))
    assert str(caught.value) == (
        "--fastest: no gear can be held within this speed. Allow a higher one where the law and the road do."
    )


def test_timed_runs_are_planned_from_those_of_the_first_ride() -> None:
    found = plan_starts([run(6.0), run(6.4), run(6.2), run(9.9, 40.0)], "before", "kmh", -5.0)
    assert found.from_mps == 0.0
    assert found.to_mps == pytest.approx(80 * MPS_PER_KMH, abs=0.01)
    assert found.time_s == pytest.approx(6.2)
    assert found.run_sd_s == pytest.approx(0.2)
    assert found.known_from == "found in the ride before"
    assumed = plan_starts([run(6.0)], "before", "mph", -5.0)
    assert assumed.to_mps == pytest.approx(50 * MPS_PER_MPH)
    assert assumed.known_from == "assumed: no two runs were timed yet"


# By hand, 0.18 s x sqrt(2/n) x (t_0.975 + t_0.8) with Student's t for 2 n - 2 degrees of freedom (2.447 + 0.906,
# 2.228 + 0.879, 2.145 + 0.868, 2.101 + 0.862): 0.427, 0.323, 0.271 and 0.239 s with 4, 6, 8 and 10 runs.
@pytest.mark.parametrize(
    ("change_percent", "runs", "smallest_s"), [(-7.2, 4, 0.427), (5.5, 6, 0.323), (-4.6, 8, 0.271), (-1.0, 6, 0.323)]
)
def test_as_few_runs_as_show_what_the_gearing_changes(change_percent: float, runs: int, smallest_s: float) -> None:
    found = plan_starts((), "before", "kmh", change_percent)
    assert found.runs == runs
    assert found.smallest_s == pytest.approx(smallest_s, abs=1e-3)


def test_noise_of_a_ride_is_that_of_its_passages() -> None:
    result = example.two_setups().setups[0]
    # passages that scatter by 0.4 %, and the slip of 0.1 % that the report adds to each gear, by hand
    gears = tuple(
        replace(
            gear,
            passages=5,
            speed_per_1000rpm_mps=replace(
                gear.speed_per_1000rpm_mps,
                se=gear.speed_per_1000rpm_mps.value * math.sqrt(0.004**2 / 5 + 0.001**2),
            ),
        )
        for gear in result.gears
    )
    found = of_ride(replace(result, gears=gears), MPS_PER_KMH)
    assert found is not None
    assert (found.kind, found.known_from) == ("log", f"found in the ride {result.setup.name}")
    assert found.scatter == pytest.approx(0.004)
    assert of_ride(replace(result, gears=()), MPS_PER_KMH) is None


def test_noise_of_a_sheet_is_what_its_readings_differ_by_beyond_reading() -> None:
    """Four readings of one gear, +-2 % twice, by hand: variance 4 x 0.02^2 / 3, less that of reading."""
    result = example.two_setups().setups[0]
    speed_mps, rpm = 20.0, 5000.0
    apart = np.array([0.02, -0.02, 0.02, -0.02])
    rows = pd.DataFrame(
        {"gear": [3] * 4 + [4] * 4, "time_s": math.nan, "speed_mps": speed_mps, "engine_rpm": rpm}
    ).assign(ln_ratio=np.concatenate([5.5 + apart, 5.3 + apart]))
    found = of_ride(replace(result, samples=rows), MPS_PER_MPH)
    reading = (MPS_PER_MPH**2 / 12 + RECEIVER_SD_MPS**2) / speed_mps**2 + 100**2 / 12 / rpm**2
    assert found is not None
    assert (found.kind, found.step_mps) == ("display", MPS_PER_MPH)
    assert found.scatter == pytest.approx(math.sqrt(4 * 0.02**2 / 3 - reading))
    assert found.sd(speed_mps, rpm) == pytest.approx(math.sqrt(4 * 0.02**2 / 3))
    assert of_ride(replace(result, samples=rows.iloc[:4]), MPS_PER_MPH) is None, "three degrees of freedom tell little"


def test_what_is_missing_after_a_ride() -> None:
    result = example.two_setups().setups[0]
    name = result.setup.name
    ridden = {gear.gear: gear.passages for gear in result.gears}
    gears = plan_gears(GEARING, -5.0, assumed_display(MPS_PER_KMH), 10500, Wanted(100 * MPS_PER_KMH, passes=4))
    starts = plan_starts((), name, "kmh", -1.0)
    thin = replace(result, gears=tuple(replace(gear, passages=3) for gear in result.gears[:1]), timed_spans=())
    assert still_missing((name, "other"), {name: thin}, gears[:2], starts) == (
        f"{name}: 1 more pass in gear 1, 4 more passes in gear 2.",
        f"{name}: 6 of 6 timed runs.",
        "other: the whole ride.",
    )
    assert still_missing((name, "other"), {}, gears, starts) == ()
    full = replace(result, timed_spans=tuple(run(6.0, starts.to_mps) for _ in range(6)))
    kept = [gear for gear in gears if ridden.get(gear.gear, 0) >= 4]
    assert kept
    assert still_missing((name, name), {name: full}, kept, starts) == ()
