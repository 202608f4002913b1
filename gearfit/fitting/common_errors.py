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

from gearfit.fitting.clutch import LOWEST_GEAR
from gearfit.fitting.joint import thrust_per_mass
from gearfit.fitting.readings import Readings

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

SPEED: Final = "speed"
RPM: Final = "engine speed"
SLIP: Final = "slip"
#: Load up to which nothing slips, as a share of the highest of all sheets (ours).
_LIGHT: Final = 0.5
#: Gears that have to have been held: fewer cannot tell an offset from a ratio.
_LEAST_GEARS: Final = 3


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
    if error.kind == SPEED:
        effect = -1 / readings.speed_mps
    elif error.kind == RPM:
        effect = 1 / readings.engine_rpm
    else:
        share = load(readings)
        effect = np.where(readings.gear >= LOWEST_GEAR, np.maximum(share - _LIGHT, 0.0) / (1 - _LIGHT), 0.0)
    return np.where(rows, effect, 0.0)


def load(readings: Readings) -> FloatArray:
    """Torque that each reading took, as a share of the highest; 0 for what is no reading."""
    torque = thrust_per_mass(0.0, readings.speed_mps) * readings.speed_mps / readings.engine_rpm
    torque = np.where(readings.held, torque, 0.0)
    share: FloatArray = torque / torque.max()
    return share


def without(readings: Readings, error: CommonError) -> Readings:
    """Take an error of speed or engine speed out of the readings; slip is no error of reading."""
    rows = readings.held & np.isin(readings.setup, error.setups)
    if error.kind == SPEED:
        return replace(readings, speed_mps=readings.speed_mps - np.where(rows, error.amount, 0.0))
    if error.kind == RPM:
        return replace(readings, engine_rpm=readings.engine_rpm - np.where(rows, error.amount, 0.0))
    return readings


def can_be(readings: Readings, error: CommonError) -> bool:
    """Tell whether what is left without an error are speeds still, and slip has the sign that it must have."""
    left = without(readings, error)
    held = left.held
    fast = bool(np.all(left.speed_mps[held] > 0.5 * readings.speed_mps[held]))
    turning = bool(np.all(left.engine_rpm[held] > 0.5 * readings.engine_rpm[held]))
    return fast and turning and (error.kind != SLIP or error.amount > 0)
