"""Which tooth pairs within reach come nearest to what the rider wants."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from gearfit.machine.bike import FinalDrive, Wish
from gearfit.prediction.basis import Gearing
from gearfit.prediction.chain import pitch_diameter_m
from gearfit.prediction.chain_fit import chain_fit
from gearfit.units import MPS_PER_KMH

#: How far from the present pair others are looked for, teeth, and the fewest at the front (our bounds, no source).
FRONT_REACH: Final = 3
REAR_REACH: Final = 6
_FEWEST_FRONT: Final = 10
#: A wish counts as met within this, percentage points of the change (of a cruise, per cent of the engine speed); pairs
#: that miss by the same half of it rank by what they cost.
MET_PERCENT: Final = 1.0
_CLASS_PERCENT: Final = 0.5
#: Chain makers' general notes ask for at least so many teeth on the small sprocket of a drive.
FEWEST_TEETH_ADVISED: Final = 15
#: Pairs shown, and of how many nearest ones the chain is looked at.
_MOST_PAIRS: Final = 6
_LOOKED_AT: Final = 18


@dataclass(frozen=True)
class RankedPair:
    """A pair that could be fitted.

    Attributes
    ----------
    front, rear : int
        Teeth.
    change_percent : float
        Change of road speed at the same engine speed against now.
    miss_percent : float
        That change less the wanted one.
    sprockets_changed : int
        1 or 2.
    axle_movement_m : float or None
        With the same chain at the same slack; None where the chain is not stated or too short.
    links_to_add : int or None
        As `ChainFit`.
    notes : tuple of str
        On chain and clearance.
    """

    front: int
    rear: int
    change_percent: float
    miss_percent: float
    sprockets_changed: int
    axle_movement_m: float | None
    links_to_add: int | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class WishAnswer:
    """One wish and the pairs that come nearest, best first.

    Attributes
    ----------
    wanted_percent : float
        Wanted change of road speed at the same engine speed, against what is fitted now.
    cruise_mps, at_rpm : float or None
        The cruise wished for; None where a change was.
    met : bool
        Whether a pair within reach comes within `MET_PERCENT`.
    pairs : tuple of RankedPair
        Nearest first; of pairs that miss by about the same, the one that changes one sprocket and moves the axle least.
    """

    wanted_percent: float
    cruise_mps: float | None
    at_rpm: float | None
    met: bool
    pairs: tuple[RankedPair, ...]


def wanted_changes(wish: Wish, speed_per_1000rpm_mps: float | None) -> list[tuple[float, float | None, float | None]]:
    """Return the change [%], cruise [m/s] and engine speed [rev/min] of each wish; the latter None for a change.

    A cruise needs the road speed now at 1000 rev/min in the gear that is meant; without one it is not among them.
    """
    wanted: list[tuple[float, float | None, float | None]] = []
    if wish.change_percent is not None:
        wanted.append((wish.change_percent, None, None))
    if wish.cruise_kmh is not None and wish.at_rpm is not None and speed_per_1000rpm_mps is not None:
        cruise_mps = wish.cruise_kmh * MPS_PER_KMH
        wanted_percent = 100 * (1000 * cruise_mps / wish.at_rpm / speed_per_1000rpm_mps - 1)
        wanted.append((wanted_percent, cruise_mps, wish.at_rpm))
    return wanted


def answer_wishes(wish: Wish, now: Gearing, speed_per_1000rpm_mps: float | None) -> tuple[WishAnswer, ...]:
    """Rank the pairs within reach by each wish, as `wanted_changes`; empty where the present teeth are not stated."""
    if now.pair is None:
        return ()
    answers = []
    for wanted_percent, cruise_mps, at_rpm in wanted_changes(wish, speed_per_1000rpm_mps):
        pairs = nearest_pairs(now.final_drive, wanted_percent)
        met = bool(pairs) and min(abs(pair.miss_percent) for pair in pairs) <= MET_PERCENT
        answers.append(WishAnswer(wanted_percent, cruise_mps, at_rpm, met, pairs))
    return tuple(answers)


def nearest_pairs(drive: FinalDrive, wanted_percent: float) -> tuple[RankedPair, ...]:
    """Return the pairs within reach that come nearest to a change [%], best first."""
    if drive.front is None or drive.rear is None:
        return ()
    old = drive.front / drive.rear
    near = sorted(
        _within_reach(drive.front, drive.rear),
        key=lambda pair: abs(100 * (pair[0] / pair[1] / old - 1) - wanted_percent),
    )
    pairs = [ranked_pair(drive, front, rear, wanted_percent) for front, rear in near[:_LOOKED_AT]]
    return tuple(sorted(pairs, key=_rank)[:_MOST_PAIRS])


def neighbours(drive: FinalDrive) -> tuple[RankedPair, ...]:
    """Return the pairs that change one sprocket by one or two teeth, from the shortest gearing to the longest."""
    if drive.front is None or drive.rear is None:
        return ()
    front, rear = drive.front, drive.rear
    steps = (-2, -1, 1, 2)
    found = [(front + step, rear) for step in steps] + [(front, rear + step) for step in steps]
    pairs = [ranked_pair(drive, f, r, 0.0) for f, r in found if _FEWEST_FRONT <= f <= r]
    return tuple(sorted(pairs, key=lambda pair: pair.change_percent))


def _within_reach(front: int, rear: int) -> list[tuple[int, int]]:
    return [
        (f, r)
        for f in range(max(_FEWEST_FRONT, front - FRONT_REACH), front + FRONT_REACH + 1)
        for r in range(rear - REAR_REACH, rear + REAR_REACH + 1)
        if (f, r) != (front, rear) and f <= r
    ]


def _rank(pair: RankedPair) -> tuple[int, int, float, float]:
    moved = abs(pair.axle_movement_m) if pair.axle_movement_m is not None else 0.0
    return int(abs(pair.miss_percent) / _CLASS_PERCENT), pair.sprockets_changed, moved, abs(pair.miss_percent)


def ranked_pair(drive: FinalDrive, front: int, rear: int, wanted_percent: float) -> RankedPair:
    """Describe one pair against the drive as it is, which states its teeth."""
    old_front, old_rear = drive.front or front, drive.rear or rear
    change_percent = 100 * (front * old_rear / (old_front * rear) - 1)
    try:
        fit = chain_fit(drive, (front, rear))
    except ValueError:
        fit = None
    return RankedPair(
        front=front,
        rear=rear,
        change_percent=change_percent,
        miss_percent=change_percent - wanted_percent,
        sprockets_changed=(front != old_front) + (rear != old_rear),
        axle_movement_m=None if fit is None else fit.axle_movement_m,
        links_to_add=None if fit is None else fit.links_to_add,
        notes=clearance_notes(drive, front, rear),
    )


def clearance_notes(drive: FinalDrive, front: int, rear: int) -> tuple[str, ...]:
    """Name what to look at before a pair is fitted: sharp bend, front cover, rear guard (and how far it comes out)."""
    notes = []
    if drive.kind == "chain" and front < min(FEWEST_TEETH_ADVISED, drive.front or FEWEST_TEETH_ADVISED):
        notes.append("sharp bend")
    if drive.front is not None and front > drive.front:
        notes.append("front cover")
    if drive.rear is not None and rear > drive.rear:
        grown_mm = _grown_mm(drive, rear)
        notes.append("rear guard" if grown_mm is None else f"rear guard, +{grown_mm:.1f} mm")
    return tuple(notes)


def _grown_mm(drive: FinalDrive, rear: int) -> float | None:
    if drive.pitch_mm is None or drive.rear is None:
        return None
    return (pitch_diameter_m(drive.pitch_mm, rear) - pitch_diameter_m(drive.pitch_mm, drive.rear)) / 2
