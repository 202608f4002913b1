"""How well one passage (a reading off a display, or a stretch of a log) tells the gearing."""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd

    from gearfit.records.results import SetupResult

FloatArray = NDArray[np.float64]

#: As the report supposes them of a sheet (our assumptions, no source): how unsteadily a person holds the needle, share
#: of the engine speed, and sd of its logarithm among riders; to what a tachometer is read, rev/min; what a satellite
#: receiver's speed is off once held for some seconds, m/s.
HELD_SHARE: Final = 0.010
HELD_SPREAD: Final = 1.2
COARSEST_RPM: Final = 100.0
RECEIVER_SD_MPS: Final = 0.06
#: Relative error of a passage of a log, where no ride tells: engine-speed log beside a satellite receiver (our
#: assumption, no source).
LOG_PASSAGE_SD: Final = 0.006
#: Slip that the report adds to each gear and that cancels in a change.
_SLIP_SD: Final = 0.001
#: A passage is never supposed to be better than this, share.
_LEAST_SD: Final = 0.0005
#: Degrees of freedom from which readings tell how steadily they were held (standard error 35 % with so many).
_LEAST_DOF: Final = 4


@dataclass(frozen=True)
class Noise:
    """Errors of one passage.

    Attributes
    ----------
    kind : {"display", "log"}
        A speed read off a display beside a held engine speed, or a logged passage.
    step_mps : float
        Step of the display; 0 for a log.
    scatter : float
        Relative standard deviation from passage to passage; for a display that of holding the needle alone, to which
        reading adds.
    known_from : str
        In plain words: the first ride, or assumed.
    """

    kind: Literal["display", "log"]
    step_mps: float
    scatter: float
    known_from: str

    def sd(self, speed_mps: float, engine_rpm: float) -> float:
        """Return the relative error that one passage is expected to have."""
        if self.kind == "log":
            return self.scatter
        return math.hypot(self.scatter, self.reading_sd(speed_mps, engine_rpm))

    def reading_sd(self, speed_mps: float, engine_rpm: float) -> float:
        """Return the relative error of reading speed and engine speed within their steps, the receiver's with it."""
        if self.kind == "log":
            return 0.0
        read_mps = math.hypot(self.step_mps / math.sqrt(12), RECEIVER_SD_MPS)
        return math.hypot(read_mps / speed_mps, COARSEST_RPM / math.sqrt(12) / engine_rpm)

    def draw(self, speed_mps: FloatArray, engine_rpm: FloatArray, rng: np.random.Generator) -> FloatArray:
        """Draw errors of ln(n/v), one for each of the road speeds (draws, passages) at engine speeds (passages,)."""
        error = self.scatter * rng.standard_normal(speed_mps.shape)
        if self.kind == "log":
            return error
        error += COARSEST_RPM / engine_rpm * rng.uniform(-0.5, 0.5, speed_mps.shape)
        shown_mps = speed_mps * np.exp(error) + RECEIVER_SD_MPS * rng.standard_normal(speed_mps.shape)
        read_mps = np.maximum(self.step_mps * np.round(shown_mps / self.step_mps), self.step_mps)
        return np.log(speed_mps / read_mps)


def assumed_display(step_mps: float) -> Noise:
    """Return the noise of a display that shows whole steps, before any ride."""
    return Noise("display", step_mps, HELD_SHARE, "assumed: nothing was ridden yet")


def assumed_log() -> Noise:
    """Return the noise of a log beside a satellite receiver, before any ride."""
    return Noise("log", 0.0, LOG_PASSAGE_SD, "assumed: nothing was ridden yet")


def of_ride(result: SetupResult, step_mps: float) -> Noise | None:
    """Return the noise of a setup that was ridden; None where there are too few passages to tell.

    Parameters
    ----------
    result : SetupResult
        The ride.
    step_mps : float
        Step of the display, for sheets.
    """
    in_gear = result.samples[result.samples["gear"].notna()]
    name = f"found in the ride {result.setup.name}"
    if in_gear["time_s"].notna().any():
        variance = _of_passages(result)
        return None if variance is None else Noise("log", 0.0, math.sqrt(variance), name)
    return _of_readings(in_gear, Noise("display", step_mps, HELD_SHARE, name))


def _of_passages(result: SetupResult) -> float | None:
    """Variance of a logged passage, from the errors of the gears."""
    told = [gear for gear in result.gears if gear.passages >= 2]
    if not told:
        return None
    return statistics.median(
        max((gear.speed_per_1000rpm_mps.se / gear.speed_per_1000rpm_mps.value) ** 2 - _SLIP_SD**2, _LEAST_SD**2)
        * gear.passages
        for gear in told
    )


def _of_readings(in_gear: pd.DataFrame, usual: Noise) -> Noise | None:
    """Take for the scatter what readings show within their gears beyond what reading makes of it."""
    gears = in_gear.groupby("gear")["ln_ratio"]
    dof = len(in_gear) - gears.ngroups
    if dof < _LEAST_DOF:
        return None
    within = float(((in_gear["ln_ratio"] - gears.transform("mean")) ** 2).sum()) / dof
    read = statistics.fmean(
        usual.reading_sd(*row) ** 2 for row in zip(in_gear["speed_mps"], in_gear["engine_rpm"], strict=True)
    )
    return replace(usual, scatter=math.sqrt(max(within - read, _LEAST_SD**2)))
