"""First gear: which passages of it count, and whether something held it back; both answers keep their weight.

Grip, a light front wheel or a careful hand keep first gear from what the engine could do, and it is there that another
final drive then gains nothing. An engine that is weak at low engine speeds looks alike, for the other gears hardly go
there; so the ride is fitted both ways, and each way gets the weight that the evidence gives it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from gearfit.thrust.envelope import Open
from gearfit.thrust.fit import Question, ThrustFit, fit_held_back, fit_thrust
from gearfit.thrust.traces import Trace

_LEAST_SAMPLES: Final = 3
_LONGEST_SHIFT_S: Final = 1.6
#: A passage that pulls this much less than the usual one was no hard start, share.
_GENTLER: Final = 0.12
#: Chance that first gear is held back, before the ride is looked at (ours: rare but on strong machines).
_BEFORE: Final = 0.1
#: Beyond this the logarithm of the odds is certainty.
_CERTAIN: Final = 30.0


@dataclass(frozen=True, eq=False)
class Weighed:
    """A fit and the probability that it is the right one."""

    fit: ThrustFit
    weight: float


def hard_starts(logs: list[Trace], opened: list[Open]) -> list[Open]:
    """Return the passages of first gear out of which the rider shifted into an open second, but for gentle ones."""
    found = []
    for trace in logs:
        seconds = [s for s in opened if s.trace is trace and s.gear == 2]
        for piece in trace.pieces(trace.gear == 1):
            end = trace.time_s[piece.stop - 1]
            followed = any(0 < s.trace.time_s[s.place.start] - end < _LONGEST_SHIFT_S for s in seconds)
            if piece.stop - piece.start >= _LEAST_SAMPLES and followed:
                found.append(Open(trace, piece, 1))
    pulls = [_pull_mps2(one) for one in found]
    return [one for one, pull in zip(found, pulls, strict=True) if pull > (1 - _GENTLER) * float(np.median(pulls))]


def _pull_mps2(stretch: Open) -> float:
    time, speed = stretch.trace.time_s[stretch.place], stretch.trace.speed_mps[stretch.place]
    slope = float(np.polynomial.polynomial.polyfit(time - time[0], speed, 1)[1])
    return slope + float(np.mean(stretch.trace.hill_mps2[stretch.place]))


def weighed(question: Question) -> tuple[Weighed, ...]:
    """Fit with first gear free and held back, likelier first."""
    free = fit_thrust(question)
    gears = {stretch.gear for stretch in question.stretches}
    held = fit_held_back(question, free) if 1 in gears and max(gears) > 1 else None
    if held is None:
        return (Weighed(free, 1.0),)
    # What no hypothesis explains widens the noise, and so takes weight from the evidence.
    scale = max(1.0, min(free.chi_square, held.chi_square))
    log_odds = math.log(_BEFORE / (1 - _BEFORE)) + (held.log_evidence - free.log_evidence) / scale
    chance = 1 / (1 + math.exp(-min(max(log_odds, -_CERTAIN), _CERTAIN)))
    both = (Weighed(free, 1 - chance), Weighed(held, chance))
    return both if chance < 0.5 else both[::-1]
