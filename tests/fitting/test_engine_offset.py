"""Engine speeds that are cut to coarse steps, or wrong by one amount throughout."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.ratios.coarse_rpm import telling
from gearfit.fitting.ratios.correlated import Noise
from gearfit.fitting.ratios.engine_offset import engine_offset
from gearfit.fitting.ratios.joint import USUAL_SLIP, InGear, thrust_per_mass
from tests.validation.engine_channel import ROWS, pair

FloatArray = NDArray[np.float64]

NOISE = Noise(white_mps=0.04, correlated_mps=0.05, correlation_s=1.5, relative=0.002)
LEVELS = np.log(np.array([700.0, 450.0, 300.0]))


def swept(missing_rpm: float, seed: int = 0) -> InGear:
    """Ten passages in each of three gears, held between 2500 and 8000 rev/min, recorded `missing_rpm` too low."""
    rng = np.random.default_rng(seed)
    passage = np.repeat(np.arange(30), 80)
    gear = passage % 3
    time_s = 12.0 * passage + 0.1 * np.tile(np.arange(80), 30)
    rpm = np.linspace(2500.0, 8000.0, 10)[passage // 3] * (1 + 0.0005 * np.tile(np.arange(80), 30))
    speed_mps = rpm * np.exp(-LEVELS[gear])
    rate = np.concatenate([np.gradient(np.log(part), 0.1) for part in np.split(rpm, 30)])
    error_mps = 0.05 * rng.standard_normal(30)[passage] + 0.04 * rng.standard_normal(rpm.size)
    slip = USUAL_SLIP * thrust_per_mass(rate * speed_mps, speed_mps)
    recorded = rpm - missing_rpm + 5 * rng.standard_normal(rpm.size)
    log_ratio = np.log(recorded / (speed_mps + error_mps)) + slip
    return InGear(time_s, speed_mps, log_ratio, rate, gear, passage, NOISE)


@pytest.mark.parametrize("missing_rpm", [0.0, 60.0, -60.0])
def test_what_is_missing_is_found(missing_rpm: float) -> None:
    z = []
    for seed in range(20):
        found = engine_offset(swept(missing_rpm, seed), 0.2, 0.0)
        assert found is not None
        assert found.se_rpm < 20
        z.append((found.missing_rpm - missing_rpm) / found.se_rpm)
    assert abs(np.mean(z)) < 1.0
    assert np.max(np.abs(z)) < 3.5


def test_few_passages_tell_nothing() -> None:
    whole = swept(60.0)
    part = whole.passage < 11
    few = InGear(
        whole.time_s[part],
        whole.speed_mps[part],
        whole.log_ratio[part],
        whole.rate[part],
        whole.gear[part],
        whole.passage[part],
        NOISE,
    )
    assert engine_offset(few, 0.2, 0.0) is None


def stream(step_rpm: float) -> Stream:
    """Six seconds at 10 Hz held within one step, a change to the next one, and as long there."""
    time_s: FloatArray = np.arange(120) / 10.0
    row = np.arange(120)
    rpm = np.where(time_s < 5.95, 4000.0, 4250.0)
    return Stream(
        "log.csv", row, time_s, np.full(120, 20.0), np.full(120, 0.1), time_s, rpm, np.full(120, 72.0), 0.0, 0.0,
        rpm_step_rpm=step_rpm,
    )  # fmt: skip


def test_held_values_of_coarse_steps_count_once() -> None:
    """Samples within 0.25 s of the change (5.95 s) count by themselves: 5.7 to 6.2 s; beside them one of each value."""
    held = stream(250.0)
    counted = held.time_s[telling(held, held.time_s, np.zeros(120, dtype=np.int64))]
    near = np.abs(counted - 5.95) <= 0.2501
    assert int(near.sum()) in (5, 6)
    assert int((~near & (counted < 5.95)).sum()) == 1
    assert int((~near & (counted > 5.95)).sum()) == 1


def test_fine_steps_all_count() -> None:
    fine = stream(10.0)
    assert telling(fine, fine.time_s, np.zeros(120, dtype=np.int64)).all()


@pytest.mark.parametrize(("row", "seed"), [(5, 1003), (7, 1000), (8, 1001)])
def test_a_circumference_of_cut_or_offset_engine_speeds_is_held(row: int, seed: int) -> None:
    _, _, circumference, change, _ = pair(ROWS[row], seed)
    assert all(circumference)
    assert change


def test_coarse_steps_hold_what_they_say() -> None:
    """Six pairs of rides in steps of 250 rev/min: nine levels in ten are held at least."""
    held = [h for seed in range(1000, 1006) for h in pair(ROWS[3], seed)[0]]
    assert np.mean(held) >= 0.9
