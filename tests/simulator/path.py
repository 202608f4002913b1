"""Where a simulated ride goes: a gently bending way over open sea, on the WGS84 ellipsoid.

Radii of curvature M = a (1 - e2) / (1 - e2 sin2 phi)^(3/2) and N = a / (1 - e2 sin2 phi)^(1/2); a and 1/f as
defined for WGS84 (NIMA TR8350.2, 2000).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from tests.simulator.ride import TrueRide
from tests.simulator.road import Floats

SEMI_MAJOR_AXIS_M: Final = 6378137.0
FLATTENING: Final = 1.0 / 298.257223563
ECCENTRICITY_SQUARED: Final = FLATTENING * (2.0 - FLATTENING)
#: Start of every simulated ride: in the Gulf of Guinea, more than 400 km from any land.
START_LATITUDE_DEG: Final = 0.5
START_LONGITUDE_DEG: Final = 0.5


def positions_deg(ride: TrueRide, time_s: Floats) -> tuple[Floats, Floats]:
    """Latitude and longitude at moments of a ride.

    Parameters
    ----------
    ride : TrueRide
        The ride; its road gives the heading.
    time_s : ndarray, shape (n,)
        Moments; before the start and after the end the machine stands at the ends of the way.

    Returns
    -------
    latitude_deg, longitude_deg : ndarray, shape (n,)
        Such that distances along the ellipsoid agree with the way ridden.
    """
    way_m = np.diff(ride.position_m)
    heading = ride.road.heading_at_rad(0.5 * (ride.position_m[1:] + ride.position_m[:-1]))
    north_m = np.concatenate([[0.0], np.cumsum(way_m * np.cos(heading))])
    latitude = np.full_like(north_m, np.radians(START_LATITUDE_DEG))
    for _ in range(3):
        middle = 0.5 * (latitude[1:] + latitude[:-1])
        curvature = 1.0 - ECCENTRICITY_SQUARED * np.sin(middle) ** 2
        meridian_m = SEMI_MAJOR_AXIS_M * (1.0 - ECCENTRICITY_SQUARED) / curvature**1.5
        latitude = np.radians(START_LATITUDE_DEG) + np.concatenate([[0.0], np.cumsum(np.diff(north_m) / meridian_m)])
    middle = 0.5 * (latitude[1:] + latitude[:-1])
    normal_m = SEMI_MAJOR_AXIS_M / np.sqrt(1.0 - ECCENTRICITY_SQUARED * np.sin(middle) ** 2)
    turns = way_m * np.sin(heading) / (normal_m * np.cos(middle))
    longitude = np.radians(START_LONGITUDE_DEG) + np.concatenate([[0.0], np.cumsum(turns)])
    return (
        np.interp(time_s, ride.time_s, np.degrees(latitude)),
        np.interp(time_s, ride.time_s, np.degrees(longitude)),
    )
