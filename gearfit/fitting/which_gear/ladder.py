"""A ladder of gears as known before the fit: from tooth counts, or from another setup of the same machine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.which_gear.known_ladder import EXPECTED_SHIFT_SD
from gearfit.machine.bike import Bike, Setup
from gearfit.units import SECONDS_PER_MINUTE

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Ladder:
    """Gears 1 to G in descending order of ratio.

    Attributes
    ----------
    log_ratio : (G,) float
        ln of the ratios, up to one common shift.
    expected_shift : float or None
        What to add to get ln(n/v), as tyre and tooth counts lead one to expect; None where unknown.
    shift_sd : float
        Its standard deviation.
    origin : str
        "tooth counts" or "from the samples".
    """

    log_ratio: FloatArray
    expected_shift: float | None
    shift_sd: float
    origin: str

    @property
    def log_circumference(self) -> float | None:
        """ln(C/60) as expected, which is what ln v - ln n + ln i comes to; None where unknown."""
        return None if self.expected_shift is None else -self.expected_shift


def from_teeth(bike: Bike, setup: Setup) -> Ladder | None:
    """Ladder of a setup from bike.toml; None without gearbox ratios."""
    if bike.gearbox.gears is None:
        return None
    overall = bike.overall_ratios(setup)
    circumference_m = setup.tyre.nominal_circumference_m
    if overall is None or circumference_m is None:
        shape = overall if overall is not None else bike.gearbox.gears
        return Ladder(np.log(np.array(shape)), None, EXPECTED_SHIFT_SD, "tooth counts")
    shift = float(np.log(SECONDS_PER_MINUTE / circumference_m))
    return Ladder(np.log(np.array(overall)), shift, EXPECTED_SHIFT_SD, "tooth counts")
