"""Circumference and ratios from the levels of the gears, with what is known from outside."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.errors import UndecidableError
from gearfit.fitting.ratios.drivetrain import fit_drivetrain

RATIOS = np.array([14.2, 9.8, 7.6, 6.3, 5.5])
CIRCUMFERENCE_M = 1.98
LEVEL = np.log(RATIOS * 60 / CIRCUMFERENCE_M)
SD = np.array([0.006, 0.004, 0.003, 0.002, 0.001])
NOISE = np.array([0.004, -0.005, 0.001, 0.002, -0.0005])


def test_neither_known() -> None:
    with pytest.raises(UndecidableError) as caught:
        fit_drivetrain(LEVEL, np.diag(SD**2))
    assert str(caught.value) == (
        "speed and engine speed alone fix only the ratio of circumference and overall ratio: state the tooth counts or "
        "the rolling circumference in bike.toml"
    )


def test_all_ratios_unknown_is_the_same_as_none_given() -> None:
    with pytest.raises(UndecidableError):
        fit_drivetrain(LEVEL, np.diag(SD**2), ratio=np.full(5, np.nan))


def test_ratios_exact_gives_the_weighted_mean() -> None:
    """ln C is the mean of ln i + ln 60 - k, weighted with 1/sd^2; its variance is 1 over the sum of the weights."""
    found = fit_drivetrain(LEVEL + NOISE, np.diag(SD**2), ratio=RATIOS)
    weight = SD**-2
    assert found.log_circumference == pytest.approx(
        np.average(np.log(RATIOS) + np.log(60) - LEVEL - NOISE, weights=weight), abs=1e-9
    )
    assert found.covariance[0, 0] == pytest.approx(1 / weight.sum(), rel=1e-5)
    assert found.log_ratios == pytest.approx(np.log(RATIOS), abs=1e-9)


def test_correlated_levels_give_the_generalised_mean() -> None:
    covariance = np.diag(SD**2) + 0.003**2 * np.ones((5, 5)) * np.outer(SD, SD) / SD.max() ** 2
    found = fit_drivetrain(LEVEL + NOISE, covariance, ratio=RATIOS)
    weight = np.linalg.inv(covariance).sum(axis=0)
    wanted = weight @ (np.log(RATIOS) + np.log(60) - LEVEL - NOISE) / weight.sum()
    assert found.log_circumference == pytest.approx(wanted, abs=1e-9)
    assert found.covariance[0, 0] == pytest.approx(1 / weight.sum(), rel=1e-5)


def test_circumference_exact_gives_the_ratios() -> None:
    found = fit_drivetrain(LEVEL + NOISE, np.diag(SD**2), circumference_m=CIRCUMFERENCE_M)
    assert found.log_ratios == pytest.approx(np.log(RATIOS) + NOISE, abs=1e-9)
    assert np.diag(found.covariance)[1:] == pytest.approx(SD**2, rel=1e-5)


def test_an_uncertain_circumference_moves_all_ratios_together() -> None:
    found = fit_drivetrain(LEVEL, np.diag(SD**2), circumference_m=CIRCUMFERENCE_M, circumference_relative_sd=0.02)
    assert np.exp(found.log_ratios) == pytest.approx(RATIOS, rel=1e-9)
    assert np.diag(found.covariance)[1:] == pytest.approx(SD**2 + 0.02**2, rel=1e-5)
    assert found.covariance[1, 2] == pytest.approx(0.02**2, rel=1e-5)


def test_both_known_meet_by_their_weights() -> None:
    """Ratios exact, circumference stated 1 % high with 0.5 %: the mean of two observations of ln C."""
    stated_m, stated_sd = 1.01 * CIRCUMFERENCE_M, 0.005
    found = fit_drivetrain(
        LEVEL, np.diag(SD**2), ratio=RATIOS, circumference_m=stated_m, circumference_relative_sd=stated_sd
    )
    from_ride, from_book = float(np.sum(SD**-2)), stated_sd**-2
    wanted = (from_ride * np.log(CIRCUMFERENCE_M) + from_book * np.log(stated_m)) / (from_ride + from_book)
    assert found.log_circumference == pytest.approx(wanted, abs=1e-9)
    assert found.covariance[0, 0] == pytest.approx(1 / (from_ride + from_book), rel=1e-5)


def test_one_known_ratio_fixes_the_rest() -> None:
    ratio = np.full(5, np.nan)
    ratio[3] = RATIOS[3]
    found = fit_drivetrain(LEVEL, np.diag(SD**2), ratio=ratio)
    assert np.exp(found.log_circumference) == pytest.approx(CIRCUMFERENCE_M, rel=1e-9)
    assert np.exp(found.log_ratios) == pytest.approx(RATIOS, rel=1e-9)
    assert found.covariance[1, 1] == pytest.approx(SD[0] ** 2 + SD[3] ** 2, rel=1e-5)


def test_ratios_with_errors_of_their_own() -> None:
    own = np.full(5, 0.01)
    found = fit_drivetrain(LEVEL + NOISE, np.diag(SD**2), ratio=RATIOS, ratio_relative_sd=own)
    weight = 1 / (SD**2 + own**2)
    assert found.log_circumference == pytest.approx(
        np.log(CIRCUMFERENCE_M) - np.average(NOISE, weights=weight), abs=1e-9
    )


def test_doubled_speeds_double_the_circumference() -> None:
    once = fit_drivetrain(LEVEL + NOISE, np.diag(SD**2), ratio=RATIOS)
    twice = fit_drivetrain(LEVEL + NOISE - np.log(2), np.diag(SD**2), ratio=RATIOS)
    assert np.exp(twice.log_circumference - once.log_circumference) == pytest.approx(2, rel=1e-9)
