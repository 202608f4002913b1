"""How well one passage (a reading off a display, or a stretch of a log) tells the gearing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from gearfit.results import SetupResult

FloatArray = NDArray[np.float64]

#: How unsteadily a person holds the needle, share of the engine speed, and the coarsest scale of a tachometer: as the
#: report assumes them for a sheet (our assumptions, no source).
HELD_SHARE: Final = 0.005
COARSEST_RPM: Final = 100.0
#: Error of a satellite receiver's speed once held for some seconds, m/s (our assumption, no source).
RECEIVER_SD_MPS: Final = 0.05
#: Relative error of a passage of a log, where no ride tells: engine-speed log beside a satellite receiver (our
#: assumption, no source).
LOG_PASSAGE_SD: Final = 0.006
#: By how much passages of a log scatter more than the errors within them say (our assumption: the fit finds it anyway).
_LOG_SCATTER: Final = 3.0
#: Slip that the report adds to each gear and that cancels in a change.
_SLIP_SD: Final = 0.001
_LEAST_SD: Final = 0.0005


@dataclass(frozen=True)
class Noise:
    """Errors of one passage.

    Attributes
    ----------
    kind : {"display", "log"}
        A speed read off a display beside a held engine speed, or a logged passage.
    step_mps : float
        Step of the display; 0 for a log.
    factor : float
        By how much less steadily this rider holds needle and speed than assumed, at least 1 (display).
    passage_sd : float
        Relative standard deviation of a passage (log).
    known_from : str
        In plain words: the first ride, or assumed.
    """

    kind: Literal["display", "log"]
    step_mps: float
    factor: float
    passage_sd: float
    known_from: str

    def stated_sd(self, speed_mps: float, engine_rpm: float) -> float:
        """Return the relative error that the report credits to one passage before it sees the scatter."""
        if self.kind == "log":
            return self.passage_sd / _LOG_SCATTER
        return math.hypot(self.step_mps / math.sqrt(12) / speed_mps, held_sd_rpm(engine_rpm) / engine_rpm)

    def true_sd(self, speed_mps: float, engine_rpm: float) -> float:
        """Return the relative error that one passage is expected to have."""
        if self.kind == "log":
            return self.passage_sd
        return math.hypot(self.step_mps / math.sqrt(12) / speed_mps, self.factor * _unsteady(speed_mps, engine_rpm))

    def draw(self, speed_mps: FloatArray, engine_rpm: FloatArray, rng: np.random.Generator) -> FloatArray:
        """Draw errors of ln(n/v), one for each of the road speeds (draws, passages) at engine speeds (passages,)."""
        if self.kind == "log":
            return self.passage_sd * rng.standard_normal(speed_mps.shape)
        held = self.factor * np.array([held_sd_rpm(float(rpm)) / rpm for rpm in engine_rpm])
        true_mps = speed_mps * (1 + held * rng.standard_normal(speed_mps.shape))
        shown_mps = true_mps + self.factor * RECEIVER_SD_MPS * rng.standard_normal(speed_mps.shape)
        read_mps = np.maximum(self.step_mps * np.round(shown_mps / self.step_mps), self.step_mps)
        return np.log(speed_mps / read_mps)


def _unsteady(speed_mps: float, engine_rpm: float) -> float:
    """Relative error of holding the needle and of the receiver together."""
    return math.hypot(held_sd_rpm(engine_rpm) / engine_rpm, RECEIVER_SD_MPS / speed_mps)


def held_sd_rpm(engine_rpm: float) -> float:
    """Return the standard error of an engine speed that a person holds, rev/min."""
    return max(HELD_SHARE * engine_rpm, COARSEST_RPM / math.sqrt(12))


def assumed_display(step_mps: float) -> Noise:
    """Return the noise of a display that shows whole steps, before any ride."""
    return Noise("display", step_mps, 1.0, 0.0, "assumed: nothing was ridden yet")


def assumed_log() -> Noise:
    """Return the noise of a log beside a satellite receiver, before any ride."""
    return Noise("log", 0.0, 1.0, LOG_PASSAGE_SD, "assumed: nothing was ridden yet")


def of_ride(result: SetupResult, step_mps: float) -> Noise | None:
    """Return the noise of a setup that was ridden; None where its gears have too few passages to tell.

    Parameters
    ----------
    result : SetupResult
        The ride.
    step_mps : float
        Step of the display, for sheets.
    """
    told = [gear for gear in result.gears if gear.passages >= 2]
    if not told:
        return None
    variances = np.array(
        [
            max((gear.speed_per_1000rpm_mps.se / gear.speed_per_1000rpm_mps.value) ** 2 - _SLIP_SD**2, _LEAST_SD**2)
            * gear.passages
            for gear in told
        ]
    )
    name = f"found in the ride {result.setup.name}"
    in_gear = result.samples[result.samples["gear"].notna()]
    if in_gear["time_s"].notna().any():
        return Noise("log", 0.0, 1.0, math.sqrt(float(np.median(variances))), name)
    factors = []
    for gear, variance in zip(told, variances, strict=True):
        rows = in_gear[in_gear["gear"] == gear.gear]
        speed_mps, rpm = float(rows["speed_mps"].mean()), float(rows["engine_rpm"].mean())
        rest = max(variance - (step_mps / speed_mps) ** 2 / 12, 0.0)
        factors.append(math.sqrt(rest) / _unsteady(speed_mps, rpm))
    return Noise("display", step_mps, max(float(np.median(factors)), 1.0), 0.0, name)
