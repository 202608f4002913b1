"""From engine speed to road speed by what a fit says of the drive, and how wrong that may be."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.fitting.ratios.correlated import Noise
from gearfit.fitting.ratios.drive import Drive, drives
from gearfit.fitting.ratios.joint import InGear, solve

MPS_100 = 100 / 3.6
#: Slip 0.001 s^2/m give or take 0.0002, level give or take 0.001, tied so that they cancel at 5 m/s^2.
SLIPPING = Drive(
    gear=np.array([3]),
    log_ratio=np.log([200.0]),
    slip=0.001,
    square_speed=np.array([MPS_100**2]),
    covariance=np.array([[1e-6, 0.0, -2e-7], [0.0, 4e-4, 0.0], [-2e-7, 0.0, 4e-8]]),
)


def speeds(drive: Drive, rpm: float, acceleration_mps2: float) -> tuple[float, float]:
    """Return a road speed and its standard error."""
    speed, common = drive.speeds(np.array([rpm]), np.array([3]), acceleration_mps2)
    return float(speed[0]), float(np.linalg.norm(common[0]))


def test_slip_is_taken_off() -> None:
    """At 3 m/s^2 and 100 km/h: thrust per mass 3 + 0.05224 + 0.001379 x 27.78^2 = 4.116 m/s^2; 0.41 % of the speed."""
    assert speeds(SLIPPING, 200 * MPS_100, 3.0)[0] == pytest.approx(MPS_100 * (1 - 0.001 * 4.116), rel=1e-5)


def test_level_and_slip_cancel_where_they_were_found_together() -> None:
    """Level 0.1 % and slip 0.02 % per m/s^2 cancel at a thrust of 5 m/s^2, and add up to 0.1 % x |u - 5| / 5."""
    load = 13.06 / 250 + 0.0266 * 3.6**2 / 250 * MPS_100**2
    without_lag = Drive(
        SLIPPING.gear,
        SLIPPING.log_ratio,
        SLIPPING.slip,
        SLIPPING.square_speed,
        SLIPPING.covariance * np.array([[1, 0, 1], [0, 0, 0], [1, 0, 1]]),
    )
    for thrust in (3.0, 5.0, 6.0):
        # The smallest speed by which the growth counts: that behind the level lies 0.4 % above, growth 0.001 of it.
        off = speeds(without_lag, 200 * MPS_100, thrust - load)[1] / MPS_100
        assert off == pytest.approx(0.001 * abs(thrust - 5) / 5, abs=2e-5)


def test_a_wrong_lag_counts_by_the_acceleration() -> None:
    still, pulling = (speeds(SLIPPING, 200 * MPS_100, a)[1] for a in (0.0, 5.0))
    assert still < 0.001 * MPS_100
    assert pulling == pytest.approx(0.02 * 5.0, rel=0.05)


def test_a_tyre_grows_beyond_what_its_level_holds() -> None:
    """From 100 to 200 km/h by three times the growth up to 100 km/h, 0.1 % give or take as much."""
    even = Drive(SLIPPING.gear, SLIPPING.log_ratio, 0.0, SLIPPING.square_speed, np.zeros((3, 3)))
    speed, se = speeds(even, 400 * MPS_100, 0.0)
    assert speed == pytest.approx(2 * MPS_100 * np.exp(0.003), rel=1e-9)
    assert se == pytest.approx(0.003 * speed, rel=1e-9)


def test_each_stream_has_its_own_lag() -> None:
    rng = np.random.default_rng(4)
    time_s = np.arange(400) / 10
    speed = 20 + 5 * np.sin(time_s / 2)
    rate = 2.5 * np.cos(time_s / 2) / speed
    gear = np.repeat([1, 4], 200)
    streams = [
        InGear(
            time_s,
            speed,
            np.log(np.where(gear == 1, 400.0, 150.0)) + scale * 0.002 * rng.standard_normal(400),
            rate,
            gear,
            np.repeat([0, 1], 200),
            Noise(0.04 * scale, 0.0, 1.0, 0.0),
        )
        for scale in (1.0, 5.0)
    ]
    found = solve(streams, np.zeros(2), 0.2, [(0.0, 0.0)] * 2)
    parts = drives(found, streams)
    assert [part.gear.tolist() for part in parts] == [[2, 5], [2, 5]]
    for part, lag_se_s in zip(parts, found.lag_se_s, strict=True):
        assert part.covariance[2, 2] == pytest.approx(lag_se_s**2)
        assert part.covariance[:2, :2] == pytest.approx(found.covariance)
        assert part.covariance[3, 3] == pytest.approx(found.slip_se**2)
    assert parts[0].covariance[2, 2] < parts[1].covariance[2, 2]
    assert parts[0].square_speed == pytest.approx([np.mean(speed[:200] ** 2), np.mean(speed[200:] ** 2)])
