"""Distances between neighbouring points on the WGS84 ellipsoid."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

#: WGS84 defining constants (NIMA TR8350.2, third edition): semi-major axis and flattening.
SEMI_MAJOR_M: Final = 6_378_137.0
FLATTENING: Final = 1.0 / 298.257223563
_ECCENTRICITY_SQUARED: Final = FLATTENING * (2.0 - FLATTENING)

Floats = NDArray[np.float64]


def displacement_m(lat1_deg: Floats, lon1_deg: Floats, lat2_deg: Floats, lon2_deg: Floats) -> tuple[Floats, Floats]:
    """Displacement from one point to the next, for steps up to a few kilometres outside the polar caps.

    With e^2 = f (2 - f), w^2 = 1 - e^2 sin^2(phi) at the mid latitude phi, the radii of curvature are
    M = a (1 - e^2) / w^3 (meridian) and N = a / w (prime vertical); north = M dphi, east = N cos(phi) dlambda
    (mid-latitude formula of ellipsoidal geodesy; for steps s its relative error is of order (s / a)^2).

    Parameters
    ----------
    lat1_deg, lon1_deg, lat2_deg, lon2_deg : numpy.ndarray
        Geodetic latitudes and longitudes in degrees, of one shape.

    Returns
    -------
    tuple of numpy.ndarray
        Metres to the east and metres to the north.
    """
    middle = np.radians((lat1_deg + lat2_deg) / 2.0)
    w_squared = 1.0 - _ECCENTRICITY_SQUARED * np.sin(middle) ** 2
    prime_vertical_m = SEMI_MAJOR_M / np.sqrt(w_squared)
    meridian_m = prime_vertical_m * (1.0 - _ECCENTRICITY_SQUARED) / w_squared
    turn_deg = (lon2_deg - lon1_deg + 180.0) % 360.0 - 180.0
    east_m = prime_vertical_m * np.cos(middle) * np.radians(turn_deg)
    north_m = meridian_m * np.radians(lat2_deg - lat1_deg)
    return east_m, north_m


def distance_m(lat1_deg: Floats, lon1_deg: Floats, lat2_deg: Floats, lon2_deg: Floats) -> Floats:
    """Distance in metres between two points; parameters as `displacement_m`."""
    east_m, north_m = displacement_m(lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    return np.hypot(east_m, north_m)
