"""Which reduction of the final drive one ride shows, given gearbox, tyre and a true tachometer.

k_g = ln n/v = ln(primary x gear x reduction) + ln(60/C): with C nominal the level of all gears tells the reduction, as
well as tyre and tachometer are known, which is some per cent.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from gearfit.fitting.ratios.agreement import common_level
from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.setup_summary import MACHINE_SPEED_SD
from gearfit.machine.bike import Bike, FinalDrive, Setup
from gearfit.records.recording import INSTRUMENTS
from gearfit.units import SECONDS_PER_MINUTE

#: Tachometer: within 3 % (40 CFR 205 allows +-3 %), anywhere between alike, as a relative standard deviation.
_TACHOMETER_SD: Final = 0.03 / math.sqrt(3)
#: Beside it, where a log does not say that its speed is that of a receiver: relative standard deviation (ours).
_UNNAMED_SPEED_SD: Final = 0.02
_RECEIVERS: Final = ("receiver", "position", "hand")
#: A stated pair is doubted beyond this many standard deviations (1 of 200 sound machines with a normal law; ours).
_DOUBTED: Final = 2.8
#: Off by more than the first in both setups, and alike within the second, it is gearbox or primary drive and not both
#: sprockets, ln (ours).
_GEARBOX: Final = 0.12
_ALIKE: Final = 0.04
#: Pairs are listed within this many (95 %).
_LISTED: Final = 1.96


@dataclass(frozen=True)
class Reduction:
    """Rear teeth over front teeth as a ride shows it.

    Attributes
    ----------
    log_value : float
        ln of it.
    se : float
        Standard error of the ride alone.
    known_sd : float
        Standard deviation of what tyre and tachometer leave open; the same in each ride on one machine.
    """

    log_value: float
    se: float
    known_sd: float

    @property
    def sd(self) -> float:
        """Standard deviation of `log_value`."""
        return math.hypot(self.se, self.known_sd)

    def ends(self) -> tuple[float, float]:
        """Return the reductions between which 95 % lie."""
        return math.exp(self.log_value - _LISTED * self.sd), math.exp(self.log_value + _LISTED * self.sd)

    def apart(self, drive: FinalDrive) -> float | None:
        """Return ln(stated/shown), which is ln(C at the stated teeth/C nominal); None where none is stated."""
        return None if drive.reduction is None else math.log(drive.reduction) - self.log_value

    def doubts(self, drive: FinalDrive) -> bool:
        """Tell whether the stated teeth are further off than tyre and tachometer can explain."""
        apart = self.apart(drive)
        return apart is not None and abs(apart) > _DOUBTED * self.sd

    def holds(self, front: int, rear: int) -> bool:
        """Tell whether a pair lies within the 95 % range."""
        low, high = self.ends()
        return low <= rear / front <= high


def shown_reduction(bike: Bike, setup: Setup, levels: Levels | None, speed_source: str) -> Reduction | None:
    """Return the reduction that a ride shows.

    None where gearbox, primary drive or tyre are not stated, where the speeds are those of a speedometer, or the
    machine's own and not stated to come from a wheel, and where the gears do not fit the stated gearbox.
    """
    box, circumference_m = bike.gearbox, setup.tyre.nominal_circumference_m
    sd_m = setup.tyre.nominal_circumference_sd_m
    if levels is None or box.primary is None or box.gears is None or circumference_m is None or sd_m is None:
        return None
    at_wheel = speed_source == "machine" and bike.speedometer.at_wheel
    known = np.flatnonzero(levels.gear <= len(box.gears))
    if (speed_source in (*INSTRUMENTS, "none") and not at_wheel) or known.size == 0:
        return None
    stated = box.primary * np.array(box.gears)[levels.gear[known] - 1]
    shown = levels.log_ratio[known] - np.log(stated * SECONDS_PER_MINUTE / circumference_m)
    common = common_level(shown, levels.covariance[np.ix_(known, known)], levels.dof)
    if not common.agrees.any():
        return None
    open_sd = [sd_m / circumference_m, _TACHOMETER_SD]
    if speed_source not in _RECEIVERS:
        open_sd.append(MACHINE_SPEED_SD if speed_source == "machine" else _UNNAMED_SPEED_SD)
    return Reduction(common.value, math.sqrt(common.variance), math.hypot(*open_sd))


def of_the_gearbox(first: Reduction | None, drive: FinalDrive, second: Reduction | None, other: FinalDrive) -> bool:
    """Tell whether both setups are so far off their stated sprockets, and so alike, that gearbox or primary are wrong.

    Then the rides say nothing of the sprockets by themselves, but their change all the same.
    """
    one = None if first is None else first.apart(drive)
    two = None if second is None else second.apart(other)
    return one is not None and two is not None and min(abs(one), abs(two)) > _GEARBOX and abs(one - two) < _ALIKE
