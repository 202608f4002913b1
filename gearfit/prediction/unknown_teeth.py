"""Which sprockets may be fitted where nobody has counted their teeth: from a ride, gearbox and tyre."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from gearfit.machine.bike import Bike
from gearfit.prediction.basis import FROM_RIDE, Gearing
from gearfit.units import SECONDS_PER_MINUTE

#: Front sprockets of road motorcycles, teeth (common practice, no source).
_USUAL_FRONTS: Final = range(12, 18)


@dataclass(frozen=True)
class LikelyTeeth:
    """Reduction of the final drive that a ride leads one to expect, and usual pairs within its 95 % range.

    Attributes
    ----------
    reduction, relative_sd : float
        Rear teeth over front teeth, and its relative standard error.
    pairs : tuple of (int, int)
        Nearest (front, rear) for each usual front sprocket.
    """

    reduction: float
    relative_sd: float
    pairs: tuple[tuple[int, int], ...]


def likely_teeth(bike: Bike, now: Gearing) -> LikelyTeeth | None:
    """Infer the reduction where the sprockets are not stated; None where gearbox, tyre or ride do not allow it.

    i = C / (60 s_g), so rear/front = C / (60 s_g x primary x gear), averaged over the gears ridden.
    """
    box, circumference_m, sd_m = bike.gearbox, now.circumference_m, now.tyre.nominal_circumference_sd_m
    if now.pair is not None or box.primary is None or box.gears is None or circumference_m is None or sd_m is None:
        return None
    reductions = [
        1000 * circumference_m / (SECONDS_PER_MINUTE * speed * box.primary * box.gears[gear - 1])
        for gear, speed, origin in zip(now.gears, now.speed_per_1000rpm_mps, now.known_from, strict=True)
        if origin == FROM_RIDE and gear <= len(box.gears)
    ]
    if not reductions:
        return None
    reduction = math.exp(sum(map(math.log, reductions)) / len(reductions))
    relative_sd = math.hypot(sd_m / circumference_m, now.relative_sd)
    near = [(front, round(front * reduction)) for front in _USUAL_FRONTS]
    pairs = tuple(pair for pair in near if abs(pair[1] / pair[0] / reduction - 1) <= 2 * relative_sd)
    return LikelyTeeth(reduction, relative_sd, pairs)
