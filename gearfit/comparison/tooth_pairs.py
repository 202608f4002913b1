"""Which tooth pairs are fitted before and after, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from gearfit.comparison.pair_odds import Measured, Odds, odds
from gearfit.comparison.pair_prior import FloatArray, Pairs, prior
from gearfit.comparison.shift import RIDE_TO_RIDE_SD, Shift
from gearfit.comparison.shown_reduction import Reduction
from gearfit.comparison.sold_pairs import fronts_sold, goes_round, rears_sold
from gearfit.machine.bike import FinalDrive, Setup
from gearfit.prediction.gearing import tyre_factor
from gearfit.records.recording import INSTRUMENTS
from gearfit.records.results import FittedPairs, SprocketCheck, SprocketPair

#: Front sprockets of road motorcycles, teeth (common practice, no source).
_USUAL_FRONTS: Final = range(11, 20)
#: Pairs are listed until together they hold this share of what pairs hold, at most so many, none below the last share.
_HELD: Final = 0.99
_MOST: Final = 6
_LEAST: Final = 0.005


def sees_sprockets(sources: tuple[str, str], driven_from: str, shift: Shift) -> bool:
    """Tell whether the change that was measured can show sprockets at all.

    Not where an instrument of the machine (its speedometer, or the speed that its computer says) is held against
    another kind of speed, since its error does not cancel then; not where it is driven from the gearbox, or may be,
    since it shows no change whatever was fitted.
    """
    if not {*sources} & {*INSTRUMENTS}:
        return True
    if sources[0] != sources[1] or driven_from == "gearbox output" or shift.all_gears_percent is None:
        return False
    return driven_from != "unknown" or not shift.all_gears_percent.contains(0.0)


def check_pairs(
    reference: Setup, other: Setup, shift: Shift, shown: tuple[Reduction | None, Reduction | None] = (None, None)
) -> SprocketCheck | None:
    """Weigh the tooth pairs of two setups by the change and by what each ride shows.

    Parameters
    ----------
    reference, other : Setup
        As the rider states them.
    shift : Shift
        The measured change.
    shown : (Reduction or None, Reduction or None)
        The reductions that the two rides show by themselves.

    Returns
    -------
    SprocketCheck or None
        None where nothing was measured, where the gears contradict each other, where the reference does not state both
        its sprockets, and where there is no chain or belt.
    """
    drives = reference.final_drive, other.final_drive
    undecided = shift.agreement is not None and not shift.agreement.agrees.any()
    if drives[0].reduction is None or shift.all_gears_percent is None or undecided:
        return None
    if not fronts_sold(drives[0]) or drives[0].kind != drives[1].kind:
        return None
    log_tyre = math.log(tyre_factor(reference.tyre, other.tyre))
    scale = math.hypot(shift.log_se, RIDE_TO_RIDE_SD)
    stated = None
    if drives[1].reduction is not None:
        stated = math.log(drives[0].reduction), math.log(drives[1].reduction)
    measured = Measured(shift.log_change, scale, shift.dof, log_tyre, *shown)
    believed, doubted = (odds(_possible(*drives, doubted=doubt), measured, stated) for doubt in (False, True))
    return _check(believed, doubted.joint, *drives, log_tyre)


def _possible(reference: FinalDrive, other: FinalDrive, *, doubted: bool) -> Pairs:
    """Weigh all pairs that are sold and that the chains of the two setups go round."""
    fronts = fronts_sold(reference, reference.front, other.front)
    rears = rears_sold(reference, reference.rear, other.rear)
    pairs = prior(fronts, rears, reference, other, doubted=doubted)
    chains = reference, replace(other, front=other.front or reference.front, rear=other.rear or reference.rear)
    round_it = [np.array([goes_round(drive, (int(f), int(r))) for f, r in pairs.teeth]) for drive in chains]
    weight = pairs.weight * round_it[0][:, None] * round_it[1][None, :]
    return Pairs(pairs.teeth, weight / weight.sum())


def _check(
    found: Odds, doubted: FloatArray, reference: FinalDrive, other: FinalDrive, log_tyre: float
) -> SprocketCheck:
    """Say what is found; a pair is as likely as it is at least, whether its statement is believed or not."""
    names = [(int(front), int(rear)) for front, rear in found.teeth]
    before, after = ((drive.front or 0, drive.rear or 0) for drive in (reference, other))
    first = names.index(before)
    joint, exchanged = found.joint.copy(), found.exchanged
    stated = float(joint[first, names.index(after)]) if after in names else None
    if after in names and before != after:
        # the stated counts the other way round in two rides that are not exchanged come to the same fitted pairs
        joint[names.index(after), first] += exchanged
        exchanged = float(joint[names.index(after), first])
    # no pair fits where something that is neither teeth nor tyre is likelier than any one combination of pairs
    none = found.otherwise > float(joint.max())
    return SprocketCheck(
        candidates=() if none else _candidates(joint, doubted, names, log_tyre),
        pairs=() if none else _combinations(joint, names),
        stated_probability=stated,
        another_tyre_probability=found.tyre,
        exchanged_probability=exchanged,
        no_pair_probability=found.otherwise,
    )


def _candidates(
    joint: FloatArray, doubted: FloatArray, names: list[tuple[int, int]], log_tyre: float
) -> tuple[SprocketPair, ...]:
    """List the pairs of the other setup, each with the change against the reference pair that goes with it best."""
    listed = []
    for index, probability in _likeliest(joint.sum(axis=0)):
        front, rear = names[index]
        ref_front, ref_rear = names[int(np.argmax(joint[:, index]))]
        change = math.exp(log_tyre) * front * ref_rear / (rear * ref_front)
        least = min(probability, float(doubted[:, index].sum()))
        listed.append(SprocketPair(front, rear, 100 * (change - 1), least))
    return tuple(sorted(listed, key=lambda pair: -pair.probability))


def _combinations(joint: FloatArray, names: list[tuple[int, int]]) -> tuple[FittedPairs, ...]:
    return tuple(
        FittedPairs(names[index // len(names)], names[index % len(names)], probability)
        for index, probability in _likeliest(joint.ravel())
    )


def _likeliest(probability: FloatArray) -> list[tuple[int, float]]:
    """Return index and probability of those that hold nearly all of it, most likely first."""
    order = np.argsort(-probability, kind="stable")[:_MOST]
    listed: list[tuple[int, float]] = []
    held, total = 0.0, float(probability.sum())
    for index in order:
        share = float(probability[index])
        if listed and (share < _LEAST or held >= _HELD * total):
            break
        listed.append((int(index), share))
        held += share
    return listed


def front_steps(shift: Shift) -> tuple[tuple[int, int], ...]:
    """List front sprockets (from, to) of usual sizes that would explain the change where no teeth are stated."""
    if shift.all_gears_percent is None:
        return ()
    reach = 2 * float(np.hypot(shift.log_se, RIDE_TO_RIDE_SD))
    return tuple(
        (old, old + step)
        for old in _USUAL_FRONTS
        for step in (-2, -1, 1, 2)
        if abs(shift.log_change - np.log((old + step) / old)) <= reach
    )
