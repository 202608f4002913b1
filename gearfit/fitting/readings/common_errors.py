"""Errors that every row of a setup has alike, which bend single gears and are no fault of theirs.

The same number of km/h in every row is most in first gear, the same number of rev/min most at low engine speed, and a
clutch that slips under load takes speed from the upper gears at high speed alone. Each is a column beside the rows and
gears that may be odd, and where it explains more than any of these does, it is taken instead.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.clutch import LOWEST_GEAR
from gearfit.fitting.ratios.joint import thrust_per_mass
from gearfit.fitting.readings.reading import Readings, by_setup_and_gear, marks_held

FloatArray = NDArray[np.float64]

SPEED: Final = "speed"
RPM: Final = "engine speed"
SLIP: Final = "slip"
#: Load up to which nothing slips, as a share of the highest of all sheets (ours).
_LIGHT: Final = 0.5
#: Gears that have to have been held: fewer cannot tell an offset from a ratio.
_LEAST_GEARS: Final = 3
#: Larger ones are no error of an instrument or a clutch that anybody rides with: 15 km/h, 500 rev/min, ln ratio (ours).
_MOST: Final = {SPEED: 4.2, RPM: 500.0, SLIP: 0.3}


@dataclass(frozen=True)
class CommonError:
    """An error that all rows of some setups have alike.

    Attributes
    ----------
    kind : str
        `SPEED`, `RPM` or `SLIP`.
    setups : tuple of int
        Positions of the setups.
    amount, error : float
        How much too high the speed [m/s] or engine speed [rev/min] was read, or the slip at the highest load [ln
        ratio]; standard error.
    rivals : tuple of (str, tuple of int)
        Kinds and setups that explain nearly as much.
    """

    kind: str
    setups: tuple[int, ...]
    amount: float = 0.0
    error: float = 0.0
    rivals: tuple[tuple[str, tuple[int, ...]], ...] = ()


def possible(readings: Readings) -> list[CommonError]:
    """List what errors the readings can show."""
    if np.unique(readings.gear[readings.held]).size < _LEAST_GEARS:
        return []
    each = [(int(s),) for s in np.unique(readings.setup[readings.held])]
    which = [*each, tuple(s for (s,) in each)] if len(each) > 1 else each
    kinds = (SPEED, RPM, *(() if readings.indicated.any() else (SLIP,)))
    return [CommonError(kind, setups) for kind in kinds for setups in which]


def column(readings: Readings, error: CommonError) -> FloatArray:
    """Return what one unit of an error does to ln(n/v) of each reading, (n,)."""
    rows = readings.held & np.isin(readings.setup, error.setups)
    speed, rpm = _expected(readings)
    if error.kind == SPEED:
        effect = -1 / speed
    elif error.kind == RPM:
        effect = 1 / rpm
    else:
        torque = np.where(readings.held, thrust_per_mass(0.0, speed) * speed / rpm, 0.0)
        share = torque / torque.max()
        effect = np.where(readings.gear >= LOWEST_GEAR, np.maximum(share - _LIGHT, 0.0) / (1 - _LIGHT), 0.0)
    return np.where(rows, effect, 0.0)


def _expected(readings: Readings) -> tuple[FloatArray, FloatArray]:
    """Speed and engine speed of each reading, the one that was read taken from the one that was held.

    What is read scatters, and a column made of it would explain its own scatter: so it is what it would be if all gears
    moved alike.
    """
    log_ratio, nothing = np.log(readings.engine_rpm / readings.speed_mps), np.zeros(readings.gear.size)
    alike = by_setup_and_gear(readings, log_ratio, nothing, np.empty((nothing.size, 0)), with_teeth=False).design
    ratio = np.exp(alike @ np.linalg.lstsq(alike, log_ratio, rcond=None)[0])
    if marks_held(readings):
        return readings.engine_rpm / ratio, readings.engine_rpm
    return readings.speed_mps, readings.speed_mps * ratio


def without(readings: Readings, error: CommonError) -> Readings:
    """Take an error of speed or engine speed out of the readings; slip is no error of reading."""
    rows = readings.held & np.isin(readings.setup, error.setups)
    if error.kind == SPEED:
        return replace(readings, speed_mps=readings.speed_mps - np.where(rows, error.amount, 0.0))
    if error.kind == RPM:
        return replace(readings, engine_rpm=readings.engine_rpm - np.where(rows, error.amount, 0.0))
    return readings


def can_be(error: CommonError) -> bool:
    """Tell whether anybody's readings are off by so much, and whether slip has the sign that it must have."""
    return abs(error.amount) <= _MOST[error.kind] and (error.kind != SLIP or error.amount > 0)
