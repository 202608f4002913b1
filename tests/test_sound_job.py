"""The whole job from what every owner of a camera has: the receiver's sentences and the sound of the engine."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import gearfit
from gearfit.machine.bike import Engine
from gearfit.records.results import Analysis
from gearfit.report.figures.engine_sound import draw
from tests.importers.nmea_text import rmc
from tests.simulator.sound import Microphone, engine_sound, recorded, wav_bytes

RATE_HZ = 8000
CIRCUMFERENCE_M = 1.960
PRIMARY = 74 / 25
GEARS = {2: 31 / 17, 3: 28 / 20, 4: 26 / 22, 5: 24 / 24}
REAR = {"before": 43, "after": 46}
BIKE = f"""
name = "Marshgate 400"  # an invented machine
[engine]
cylinders = 2
limit_rpm = 10500
[gearbox]
primary = "74/25"
gears = ["35/13", "31/17", "28/20", "26/22", "24/24", "23/26"]
[tyre]
rolling_circumference_mm = {1000 * CIRCUMFERENCE_M:.0f}
[setups.before]
front = 14
rear = {REAR["before"]}
[setups.after]
front = 14
rear = {REAR["after"]}
"""


def write_ride(folder: Path, rear: int, seed: int) -> None:
    """Pulls, steady riding and overrun in four gears, each of a length of its own; the sound starts 7.3 s late."""
    folder.mkdir(parents=True)
    rng = np.random.default_rng(seed)
    rpm, gear, load = [], [], []
    for _ in range(2):
        for number in GEARS:
            top = rng.uniform(6000, 8500)
            for lasts_s, first, last, pull in (
                (rng.uniform(2, 5), 4000, top, 1.0),
                (rng.uniform(2, 6), top, top - 100, 0.4),
                (rng.uniform(2, 5), top - 100, 5000, 0.1),
                (rng.uniform(1, 4), 5000, 5200, 0.4),
            ):
                n = round(100 * lasts_s)
                rpm.append(np.linspace(first, last, n))
                gear.append(np.full(n, GEARS[number]))
                load.append(np.full(n, pull))
    turning, ratio = np.concatenate(rpm), np.concatenate(gear)
    time_s = np.arange(turning.size) / 100
    speed_mps = turning * CIRCUMFERENCE_M / 60 / (PRIMARY * ratio * rear / 14)
    sound = engine_sound(time_s, turning, np.concatenate(load), Engine(2, 4), rng, RATE_HZ)[round(7.3 * RATE_HZ) :]
    (folder / "camera.wav").write_bytes(wav_bytes(recorded(sound, Microphone(), rng, RATE_HZ), RATE_HZ))
    moments_s = np.arange(0, time_s[-1], 0.2)
    knots = (np.interp(moments_s, time_s, speed_mps) + rng.normal(0, 0.03, moments_s.size)) * 3600 / 1852
    (folder / "receiver").write_text("".join(rmc(36_000 + at, kn) for at, kn in zip(moments_s, knots, strict=True)))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("marshgate")
    for seed, (setup, rear) in enumerate(REAR.items(), 1):
        write_ride(root / setup, rear, seed)
    (root / "bike.toml").write_text(BIKE, "utf-8")
    return root


@pytest.fixture(scope="module")
def analysis(folder: Path) -> Analysis:
    return gearfit.analyse(gearfit.read_folder(folder))


def test_the_change_is_what_the_teeth_say(analysis: Analysis) -> None:
    (comparison,) = analysis.comparisons
    change = comparison.all_gears_change_percent
    assert change is not None
    assert change.contains(100 * (REAR["before"] / REAR["after"] - 1))
    assert change.hi95 - change.lo95 < 0.5
    assert [gear.gear for gear in comparison.gears] == list(GEARS)
    assert all(gear.consistent for gear in comparison.gears)


def test_every_gear_has_its_true_speed(analysis: Analysis) -> None:
    for result in analysis.setups:
        for gear in result.gears:
            overall = PRIMARY * GEARS[gear.gear] * REAR[result.setup.name] / 14
            assert gear.speed_per_1000rpm_mps.value == pytest.approx(1000 * CIRCUMFERENCE_M / 60 / overall, rel=2e-3)


def test_the_report_shows_the_sound(analysis: Analysis) -> None:
    assert [picture.file for result in analysis.setups for picture in result.sounds] == [
        "before/camera.wav",
        "after/camera.wav",
    ]
    figure = draw(analysis)
    assert figure is not None
    assert len(figure.axes) == 2
