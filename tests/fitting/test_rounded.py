"""Readings that were rounded say that the value lay within a step, and no more."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats
from scipy.special import ndtr

from gearfit.fitting.pairing.material import Sheet
from gearfit.fitting.ratios.levels import difference_covariance
from gearfit.fitting.readings.rounded import level
from gearfit.fitting.readings.sheet import Placed, SheetFit, fit_sheets
from gearfit.units import MPS_PER_MPH

STEP = 0.02


def test_mass_mean_and_variance_are_those_of_numerical_integration() -> None:
    """Each reading is normal beside uniform; `scipy.integrate.quad` sums their product."""
    rng = np.random.default_rng(1)
    values = 4.0 + 0.01 * rng.standard_normal(4)
    half, own, times = np.array([0.01, 0.004, 0.0, 0.012]), np.array([1e-6, 4e-6, 2e-5, 1e-6]), np.array([1.0, 2, 1, 1])
    scatter = np.array([0.002, 0.01, 0.04])
    found = level(values, half, own, times, scatter)
    readings = [(y, h, float(np.sqrt(u)), m) for y, h, u, m in zip(values, half, own, times, strict=True)]
    for k, tau in enumerate(scatter):
        moments = [_moment(readings, float(tau), power) for power in range(3)]
        mean = moments[1] / moments[0]
        assert found.log_mass[k] == pytest.approx(np.log(moments[0]), abs=0.01)
        assert found.mean[k] - 4.0 == pytest.approx(mean, abs=2e-5)
        assert found.variance[k] == pytest.approx(moments[2] / moments[0] - mean**2, rel=0.01)


def _moment(readings: list[tuple[float, float, float, float]], tau: float, power: int) -> float:
    """Integral of (mu - 4)^power times the likelihood."""

    def weighed(mu: float) -> float:
        product = (mu - 4.0) ** power
        for y, h, own, times in readings:
            sd = np.hypot(own, tau)
            below, above = (y - h - mu) / sd, (y + h - mu) / sd
            dense = (ndtr(above) - ndtr(below)) / (2 * h) if h else np.exp(-(below**2) / 2) / (sd * np.sqrt(2 * np.pi))
            product *= float(dense) ** times
        return product

    values = [y for y, *_ in readings]
    points = [float(v) for v in np.linspace(min(values), max(values), 7)]
    return float(integrate.quad(weighed, 3.75, 4.25, points=points)[0])


def test_one_reading_has_the_variance_of_its_step() -> None:
    found = level(np.array([4.0]), np.array([STEP / 2]), np.array([1e-6]), np.ones(1), np.array([0.003]))
    assert found.mean == pytest.approx([4.0])
    assert found.variance == pytest.approx([STEP**2 / 12 + 1e-6 + 9e-6])
    assert found.log_mass == pytest.approx([0.0])


@pytest.mark.parametrize("times", [2, 6, 30])
def test_readings_alike_leave_the_level_anywhere_in_their_step(times: int) -> None:
    """And the scatter is small against the step, or they would not be alike."""
    alike = np.full(times, 4.0)
    found = level(alike, np.full(times, STEP / 2), np.full(times, 1e-8), np.ones(times), np.array([0.0004, 0.03]))
    assert np.sqrt(found.variance[0]) == pytest.approx(STEP / np.sqrt(12), rel=0.12)
    assert found.log_mass[0] > found.log_mass[1]


def test_readings_on_both_sides_of_a_mark_put_the_level_at_the_mark() -> None:
    values = np.repeat([4.0, 4.0 + STEP], 3)
    found = level(values, np.full(6, STEP / 2), np.full(6, 1e-8), np.ones(6), np.array([0.002]))
    assert found.mean == pytest.approx([4.0 + STEP / 2])
    assert found.variance[0] < (STEP / 10) ** 2


GEAR = np.tile(np.arange(1, 6), 6)
RPM = np.full(30, 4000.0)
PER_RPM = np.array([0.0024, 0.0035, 0.0045, 0.0053, 0.0061])
CHANGE = 15 / 16


def notebook(rng: np.random.Generator, held: float, factor: float, rpm: np.ndarray = RPM) -> Placed:
    """Six readings a gear, by a rider who scatters by `held`, to whole miles an hour."""
    speed = factor * rpm * PER_RPM[GEAR - 1] * (1 + held * rng.standard_normal(30)) + 0.05 * rng.standard_normal(30)
    sheet = Sheet(
        rows=np.arange(30),
        speed_mps=MPS_PER_MPH * np.round(speed / MPS_PER_MPH),
        speed_sd_mps=np.full(30, MPS_PER_MPH / np.sqrt(12)),
        engine_rpm=rpm,
        rpm_sd_rpm=np.full(30, 100 / np.sqrt(12)),
        stated_gear=GEAR.astype(float),
        speed_step_mps=np.full(30, MPS_PER_MPH),
        rpm_step_rpm=np.full(30, 100.0),
    )
    return Placed(sheet, np.zeros(30, dtype=bool), GEAR, None, None)


def pairs(held: float) -> list[list[SheetFit]]:
    scales = [(np.random.default_rng(seed), 1 + 0.05 * (seed % 17) / 17) for seed in range(60)]
    return [fit_sheets([notebook(rng, held, s), notebook(rng, held, s * CHANGE)]) for rng, s in scales]


@pytest.mark.parametrize("held", [0.004, 0.01])
def test_six_readings_a_gear_are_worth_six(held: float) -> None:
    """The scatter is found though it is less than a step, and nine of ten intervals of a gear hold its change.

    Taken together, rows that read alike made it twice as large, and all but none missed.
    """
    found = pairs(held)
    scatter = [one.scatter for one, _ in found if one.scatter is not None]
    assert float(np.median(scatter)) == pytest.approx(held, rel=0.2)
    inside = []
    for before, after in found:
        assert before.levels is not None
        assert after.levels is not None
        both = np.arange(5)
        se = np.sqrt(np.diag(difference_covariance(before.levels, after.levels, both, both)))
        off = np.abs(before.levels.log_ratio - after.levels.log_ratio - np.log(CHANGE))
        inside.append(off < stats.t.ppf(0.975, before.levels.dof) * se)
    assert 0.92 < np.mean(inside) < 0.985
