"""Straight lines with errors in both variables, against published fits and a reference library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from gearfit.errors import UndecidableError
from tests.fitting.york_reference import Line, line_fit, ratio_fit

FloatArray = NDArray[np.float64]


def numbers(text: str) -> FloatArray:
    return np.array(text.split(), dtype=float)


# Pearson's data with York's weights, as in D. York et al., American Journal of Physics 72(3), 367 (2004).
PEARSON_X = numbers("0 .9 1.8 2.6 3.3 4.4 5.2 6.1 6.5 7.4")
PEARSON_Y = numbers("5.9 5.4 4.4 4.6 3.5 3.7 2.8 2.8 2.4 1.5")
YORK_X_SD = numbers("1000 1000 500 800 200 80 60 20 1.8 1") ** -0.5
YORK_Y_SD = numbers("1 1.8 4 8 20 20 70 70 100 500") ** -0.5


def test_pearson_with_yorks_weights() -> None:
    """Williamson's exact solution as the tutorial of the library kapteyn cites it; standard errors and S/(n - 2) of
    York et al. 2004, Table II, as the R package bfsl prints them.
    """
    line = line_fit(PEARSON_X, PEARSON_Y, YORK_X_SD, YORK_Y_SD)
    assert line.intercept == pytest.approx(5.47991022403, abs=5e-12)
    assert line.slope == pytest.approx(-0.48053340745, abs=5e-12)
    assert line.intercept_se == pytest.approx(0.294970735, abs=5e-10)
    assert line.slope_se == pytest.approx(0.0579850090, abs=5e-11)
    assert line.dof == 8
    assert line.chi2 / line.dof == pytest.approx(1.483294149, abs=5e-10)


def test_pearson_standard_errors_scaled_by_the_scatter() -> None:
    """The tests of GTC (GUM Tree Calculator) print the scaled standard errors of the same fit."""
    line = line_fit(PEARSON_X, PEARSON_Y, YORK_X_SD, YORK_Y_SD)
    scale = np.sqrt(line.chi2 / line.dof)
    assert scale * line.intercept_se == pytest.approx(0.359246522551112, rel=1e-10)
    assert scale * line.slope_se == pytest.approx(0.070620269528771, rel=1e-10)


@pytest.mark.parametrize(
    ("y_sd", "published"),
    [(YORK_Y_SD, (6.10010929336, -0.61081295310)), (np.ones(10), (5.76118519259, -0.53957727555))],
    ids=["weighted", "plain"],
)
def test_pearson_with_errors_in_y_only(y_sd: FloatArray, published: tuple[float, float]) -> None:
    """As in the documentation of the library kapteyn (kmpfit), whose iteration ended within 3e-8 of the closed
    solution; that is numpy's.
    """
    line = line_fit(PEARSON_X, PEARSON_Y, np.zeros(10), y_sd)
    assert (line.intercept, line.slope) == pytest.approx(published, abs=3e-8)
    design = np.column_stack([np.ones(10), PEARSON_X]) / y_sd[:, None]
    closed = np.linalg.lstsq(design, PEARSON_Y / y_sd)[0]
    assert (line.intercept, line.slope) == pytest.approx(tuple(closed), rel=1e-12)


# NIST Statistical Reference Datasets, Norris: y and x as certified.
NORRIS_X = numbers(
    ".2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 .4 .6 775.5 666.9 338.0 447.5 11.6 "
    "556.0 228.1 995.8 887.6 120.2 .3 .3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 .5"
)
NORRIS_Y = numbers(
    ".1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 .3 .1 778.1 668.8 339.3 448.9 10.8 "
    "557.7 228.3 998.0 888.8 119.6 .3 .6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 .2"
)


def scaled(line: Line) -> tuple[float, float, float]:
    """Return the residual standard deviation and the standard errors that follow from it."""
    residual_sd = float(np.sqrt(line.chi2 / line.dof))
    return residual_sd, residual_sd * line.intercept_se, residual_sd * line.slope_se


def test_nist_norris() -> None:
    line = line_fit(NORRIS_X, NORRIS_Y, np.zeros(36), np.ones(36))
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.chi2 == pytest.approx(26.6173985294224, rel=1e-10)
    assert scaled(line) == pytest.approx((0.884796396144373, 0.232818234301152, 0.429796848199937e-03), rel=1e-10)


@pytest.mark.parametrize(
    ("x", "y", "slope", "slope_sd", "residual_sd"),
    [
        (np.arange(60.0, 71), np.arange(130.0, 141), 2.07438016528926, 0.165289256198347e-01, 3.567530340063377),
        (np.arange(4.0, 7), np.array([3.0, 4, 4]), 0.727272727272727, 0.420827318078432e-01, 0.369274472937998),
    ],
    ids=["NoInt1", "NoInt2"],
)
def test_nist_no_intercept(x: FloatArray, y: FloatArray, slope: float, slope_sd: float, residual_sd: float) -> None:
    """NIST Statistical Reference Datasets, regression through the origin."""
    found, se = ratio_fit(x, y, np.zeros(x.size), np.ones(x.size))
    assert found == pytest.approx(slope, rel=1e-13)
    scatter = float(np.sqrt(np.sum((y - found * x) ** 2) / (x.size - 1)))
    assert scatter == pytest.approx(residual_sd, rel=1e-12)
    assert scatter * se == pytest.approx(slope_sd, rel=1e-12)


def test_gum_h3_thermometer() -> None:
    """JCGM 100:2008, H.3: printed to the digits below."""
    t = numbers("21.521 22.012 22.512 23.003 23.507 23.999 24.513 25.002 25.503 26.010 26.511") - 20
    b = numbers("-.171 -.169 -.166 -.159 -.164 -.165 -.156 -.157 -.159 -.161 -.160")
    line = line_fit(t, b, np.zeros(11), np.ones(11))
    s, u_intercept, u_slope = scaled(line)
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert (s, u_intercept, u_slope) == pytest.approx((0.0035, 0.0029, 0.00067), rel=0.01)
    assert line.covariance / (line.intercept_se * line.slope_se) == pytest.approx(-0.930, abs=5e-4)
    variance_at_30 = s**2 * (line.intercept_se**2 + 100 * line.slope_se**2 + 20 * line.covariance)
    assert line.intercept + 10 * line.slope == pytest.approx(-0.1494, abs=5e-5)
    assert np.sqrt(variance_at_30) == pytest.approx(0.0041, abs=5e-5)


def reference(x: FloatArray, y: FloatArray, x_sd: FloatArray, y_sd: FloatArray, intercept: bool) -> FloatArray:
    """Estimates of odrpack (orthogonal distance regression), which solves the same problem."""
    from odrpack import odr_fit

    start = np.polyfit(x, y, 1)[::-1] if intercept else np.array([y.sum() / x.sum()])

    def straight(at: FloatArray, beta: FloatArray) -> FloatArray:
        return np.asarray(beta[-1] * at + (beta[0] if intercept else 0.0))

    def by_beta(at: FloatArray, beta: FloatArray) -> FloatArray:
        return np.vstack([np.ones_like(at), at]) if intercept else at[None, :]

    def by_x(at: FloatArray, beta: FloatArray) -> FloatArray:
        return np.full_like(at, beta[-1])

    found = odr_fit(
        straight, x, y, start, weight_x=x_sd**-2, weight_y=y_sd**-2, jac_beta=by_beta, jac_x=by_x, sstol=1e-15,
        partol=1e-14, maxit=1000,
    )  # fmt: skip
    return np.asarray(found.beta)


seeds = st.integers(0, 2**32 - 1)


def cloud(seed: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Readings of engine speed against road speed in one gear, each with errors of its own."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(5, 30))
    true_x = rng.uniform(5, 40, n)
    x_sd, y_sd = rng.uniform(0.05, 1.0, n), rng.uniform(5, 100, n)
    slope = rng.uniform(60, 300)
    return true_x + x_sd * rng.standard_normal(n), slope * true_x + y_sd * rng.standard_normal(n), x_sd, y_sd


@given(seeds)
@settings(max_examples=40, deadline=None)
def test_line_against_odrpack(seed: int) -> None:
    x, y, x_sd, y_sd = cloud(seed)
    line = line_fit(x, y, x_sd, y_sd)
    wanted = reference(x, y, x_sd, y_sd, intercept=True)
    assert line.slope == pytest.approx(wanted[1], rel=1e-8)
    assert line.intercept == pytest.approx(wanted[0], abs=1e-6 * line.intercept_se)


@given(seeds)
@settings(max_examples=40, deadline=None)
def test_ratio_against_odrpack(seed: int) -> None:
    x, y, x_sd, y_sd = cloud(seed)
    slope, _ = ratio_fit(x, y, x_sd, y_sd)
    assert slope == pytest.approx(reference(x, y, x_sd, y_sd, intercept=False)[0], rel=1e-8)


def test_ratio_errors_cover() -> None:
    """Of 2000 invented sets, as many as a normal law says lie within one and two standard errors."""
    rng = np.random.default_rng(3)
    true_x, x_sd, y_sd = np.linspace(10, 30, 12), np.full(12, 0.3), np.full(12, 30.0)
    z = []
    for _ in range(2000):
        slope, se = ratio_fit(
            true_x + x_sd * rng.standard_normal(12), 150 * true_x + y_sd * rng.standard_normal(12), x_sd, y_sd
        )
        z.append((slope - 150) / se)
    assert np.mean(np.abs(z) < 1) == pytest.approx(0.683, abs=0.03)
    assert np.mean(np.abs(z) < 1.96) == pytest.approx(0.95, abs=0.015)


def test_x_and_y_may_change_places() -> None:
    """A fit with errors in both variables is the same line whichever is called x."""
    x, y, x_sd, y_sd = cloud(11)
    one, other = line_fit(x, y, x_sd, y_sd), line_fit(y, x, y_sd, x_sd)
    assert other.slope == pytest.approx(1 / one.slope, rel=1e-9)
    assert other.chi2 == pytest.approx(one.chi2, rel=1e-9)
    assert ratio_fit(y, x, y_sd, x_sd)[0] == pytest.approx(1 / ratio_fit(x, y, x_sd, y_sd)[0], rel=1e-9)


def test_one_point_is_its_own_ratio() -> None:
    slope, se = ratio_fit(np.array([20.0]), np.array([4000.0]), np.array([0.1]), np.array([10.0]))
    assert slope == pytest.approx(200)
    assert se == pytest.approx(200 * np.hypot(0.1 / 20, 10 / 4000))


def test_undecidable() -> None:
    two, one = np.ones(2), np.ones(1)
    with pytest.raises(UndecidableError) as caught:
        line_fit(two, two, two, two)
    assert str(caught.value) == "a line needs points at two or more different values"
    with pytest.raises(UndecidableError) as caught:
        ratio_fit(0 * one, one, one, one)
    assert str(caught.value) == "a ratio needs at least one point off the origin"
