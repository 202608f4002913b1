"""Distances on the ellipsoid against a reference library and published lines."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from gearfit.importers.common.geodesy import displacement_m, distance_m


def one(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    return float(distance_m(*(np.array([value]) for value in (lat1, lon1, lat2, lon2)))[0])


@pytest.mark.parametrize("latitude", [0.0, 15.0, -37.5, 50.0, 65.0, -78.0])
@pytest.mark.parametrize("heading", range(0, 360, 30))
@pytest.mark.parametrize("step_m", [1.0, 30.0, 1000.0])
def test_steps_up_to_a_kilometre_agree_with_geographiclib(latitude: float, heading: int, step_m: float) -> None:
    end = Geodesic.WGS84.Direct(latitude, 9.99, heading, step_m)
    assert one(latitude, 9.99, end["lat2"], end["lon2"]) == pytest.approx(step_m, rel=1e-6)


def test_line_flinders_peak_to_buninyong() -> None:
    """54 972.271 m: worked example for the Vincenty formulas in the Geocentric Datum of Australia technical manual.

    At 55 km the mid-latitude formula is beyond its range; its error there is of order (s / a)^2 = 7e-5.
    """
    length_m = one(-37.95103341666667, 144.42486788888889, -37.65282113888889, 143.92649552777778)
    assert length_m == pytest.approx(54_972.271, rel=7e-5)


def test_a_step_over_the_date_line() -> None:
    expected = Geodesic.WGS84.Inverse(10.0, 179.9999, 10.0, -179.9999)["s12"]
    assert one(10.0, 179.9999, 10.0, -179.9999) == pytest.approx(expected, rel=1e-6)


def test_east_and_north_have_their_signs() -> None:
    east_m, north_m = displacement_m(np.array([50.0]), np.array([10.0]), np.array([49.999]), np.array([10.001]))
    assert east_m[0] > 0 > north_m[0]
