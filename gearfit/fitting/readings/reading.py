"""The hand-written readings of all setups as one linear model: levels, what the teeth say, errors they share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.readings.row_scatter import Model, independent

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: How exactly a speed display follows beside its steps, m/s: a satellite receiver's error over some seconds, from
#: reading to reading (our assumption; the receivers of the open recordings show 0.03 to 0.1).
_DISPLAY_SD_MPS: Final = 0.06
#: A tachometer may be read low or high at every mark: its common error is this share of the step (sd; ours).
_RPM_COMMON_STEP: Final = 0.2
#: Constant part of a speedometer's error, shown less true: mean and sd, m/s (our assumption: 1 km/h, sd 1.5 km/h; UN
#: R39 allows 0 to 4 km/h beside 10 %).
INSTRUMENT_OFFSET_MPS: Final = (0.28, 0.42)


@dataclass(frozen=True, eq=False)
class Readings:
    """Readings that have a gear, setups one after the other; arrays of one length (n,).

    Attributes
    ----------
    setup, gear : int arrays
        Position of the setup; number of the gear.
    speed_step_mps, rpm_step_rpm : float arrays
        Steps to which was read; NaN unknown.
    speed_sd_mps, rpm_sd_rpm : float arrays
        Reading errors that are stated (wider where the rider doubts).
    indicated : bool array
        Whether the speed is what the speedometer showed.
    stated : float array
        ln of the ratio from the tooth counts; NaN unknown.
    known_sd : float array
        Standard error of ln(n/v) where it is the level of a timed log and no reading; NaN for readings.
    repeats : float array
        How often the same was read: rows that are alike in every number are one reading, rounded once. 0 for levels.
    """

    setup: IntArray
    gear: IntArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray
    speed_step_mps: FloatArray
    engine_rpm: FloatArray
    rpm_sd_rpm: FloatArray
    rpm_step_rpm: FloatArray
    indicated: BoolArray
    stated: FloatArray
    known_sd: FloatArray
    repeats: FloatArray

    @property
    def held(self) -> BoolArray:
        """Readings by hand."""
        return np.isnan(self.known_sd)

    def at(self, rows: IntArray) -> Readings:
        """Return some of them."""
        return Readings(**{name: values[rows] for name, values in vars(self).items()})


@dataclass(frozen=True)
class SpeedSteps:
    """What is taken for true of the speeds read to one step on one kind of instrument.

    Attributes
    ----------
    share : float
        Step in which they were really read, as a share of the one found in the writing.
    offset_mps, offset_sd_mps : float
        What has to be added to the speeds, the same for all, and its standard deviation.
    """

    share: float = 1.0
    offset_mps: float = 0.0
    offset_sd_mps: float = 0.0


@dataclass(frozen=True, eq=False)
class Read:
    """What the readings say, (n,) each: ln(n/v), half the step that it was rounded to, other variance of reading it."""

    values: FloatArray
    half_step: FloatArray
    own: FloatArray

    @property
    def variance(self) -> FloatArray:
        """Variance of reading as a whole: an error that is uniform over a step of 2 h has h^2 / 3."""
        total: FloatArray = self.own + self.half_step**2 / 3
        return total


def corrected(readings: Readings, group: IntArray, steps: tuple[SpeedSteps, ...]) -> Read:
    """Return what was read with the offsets added to v.

    Of the two roundings, of speed and of engine speed, the wider counts as a step and the other as a normal error.
    """
    offset = np.array([s.offset_mps for s in steps])[group]
    share = np.array([s.share for s in steps])[group]
    # A speed near zero is no reading, whatever its offset: it stays above zero and is out of line with the others.
    speed = np.maximum(readings.speed_mps + np.where(readings.held, offset, 0.0), readings.speed_mps / 3)
    read_v = share * readings.speed_sd_mps / speed
    read_n = np.zeros(speed.size) if marks_held(readings) else readings.rpm_sd_rpm / readings.engine_rpm
    steps_v = np.isfinite(readings.speed_step_mps) & (read_v >= np.where(np.isfinite(readings.rpm_step_rpm), read_n, 0))
    steps_n = np.isfinite(readings.rpm_step_rpm) & ~steps_v
    wide2 = np.where(steps_v, read_v, np.where(steps_n, read_n, 0.0)) ** 2
    own = read_v**2 + read_n**2 - wide2 + (_DISPLAY_SD_MPS / speed) ** 2
    return Read(
        np.log(readings.engine_rpm / speed),
        np.where(readings.held, np.sqrt(3 * wide2), 0.0),
        np.where(readings.held, own, readings.known_sd**2),
    )


def marks_held(readings: Readings) -> bool:
    """Tell whether engine speeds were the target, of which there are fewer then than of speeds.

    A needle held at a mark is off by how it was held, and is not rounded besides.
    """
    held = readings.held
    return np.unique(readings.engine_rpm[held]).size < np.unique(readings.speed_mps[held]).size


def shared_errors(readings: Readings, group: IntArray, steps: tuple[SpeedSteps, ...]) -> FloatArray:
    """Return what errors common to all readings of an instrument do to ln(n/v), a column each, (n, q)."""
    columns = [
        np.where(readings.held & (group == g), s.offset_sd_mps / readings.speed_mps, 0.0) for g, s in enumerate(steps)
    ]
    common = _RPM_COMMON_STEP * np.nan_to_num(readings.rpm_step_rpm) / readings.engine_rpm
    columns.append(np.where(readings.held, common, 0.0))
    return np.column_stack(columns)


def by_setup_and_gear(
    readings: Readings, values: FloatArray, variance: FloatArray, shared: FloatArray, *, with_teeth: bool
) -> Model:
    """Make a model in which all gears of a setup move by one factor.

    With the teeth each setup has one level, and each gear without a stated ratio one of its own. Without them every
    gear has a level, and every setup but the first a factor.
    """
    labels, place = np.unique(readings.gear, return_inverse=True)
    stated = readings.stated if with_teeth else np.full(readings.gear.size, np.nan)
    unknown = np.zeros(labels.size, dtype=bool)
    unknown[place[np.isnan(stated)]] = True
    setups, gears = _indicators(readings.setup), _indicators(readings.gear)[:, unknown]
    columns = np.column_stack([gears, setups] if unknown.all() else [setups, gears])
    left = values - np.where(unknown[place], 0.0, stated)
    return Model(independent(columns), shared, left, variance, readings.repeats)


def _indicators(labels: IntArray) -> FloatArray:
    same: BoolArray = labels[:, None] == np.unique(labels)[None, :]
    return same.astype(np.float64)
