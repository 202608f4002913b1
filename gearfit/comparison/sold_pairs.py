"""Which tooth pairs a machine could carry: those that are sold and that its chain goes round."""

from __future__ import annotations

from typing import Final

from gearfit.machine.bike import FinalDrive
from gearfit.prediction.chain import exact_centre_pitches

#: Sprockets of motorcycles, teeth: for chains, and pulleys for toothed belts (common practice, no source).
_FRONTS: Final = {"chain": range(10, 22), "belt": range(24, 41)}
_REARS: Final = {"chain": range(26, 71), "belt": range(50, 91)}
#: Travel of a rear axle on its adjuster where it is not stated, m (common practice, no source).
_USUAL_TRAVEL_M: Final = 0.04

TeethPair = tuple[int, int]


def fronts_sold(drive: FinalDrive, *also: int | None) -> list[int]:
    """List the front sprockets looked at, teeth ascending, with the stated ones in `also`; empty for a shaft."""
    return _with(_FRONTS.get(drive.kind), also)


def rears_sold(drive: FinalDrive, *also: int | None) -> list[int]:
    """List the rear sprockets looked at, as `fronts_sold`."""
    return _with(_REARS.get(drive.kind), also)


def _with(sold: range | None, also: tuple[int | None, ...]) -> list[int]:
    return [] if sold is None else sorted({*sold, *(teeth for teeth in also if teeth is not None)})


def goes_round(drive: FinalDrive, pair: TeethPair) -> bool:
    """Tell whether the chain (or belt) of a drive goes round a pair with the axle on its adjuster.

    The axle with the stated pair is on the adjuster, so that with `pair` it is at most the adjuster's length away. True
    where teeth, pitch or links are not stated.
    """
    if not (drive.front and drive.rear and drive.pitch_mm and drive.links):
        return True
    low_mm, high_mm = drive.adjuster_mm or (0.0, 1000 * _USUAL_TRAVEL_M)
    try:
        stated = exact_centre_pitches(drive.front, drive.rear, drive.links)
    except ValueError:  # the stated chain does not suit the stated pair, so it tells nothing
        return True
    try:
        moved = exact_centre_pitches(*pair, drive.links) - stated
    except ValueError:
        return False
    return abs(moved) * drive.pitch_mm <= high_mm - low_mm
