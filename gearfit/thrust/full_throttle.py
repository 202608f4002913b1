"""Whether the hardest riding was ridden with the throttle fully open; where that is not seen, no times are predicted.

No log holds the throttle, so what an open one does beside pulling hard has to be seen: it pulls up to high engine
speeds, in several gears, and it repeats. A hand that stops short of the stop opens the throttle anew after each change
of gear, and its thrust scatters from stretch to stretch, most at high engine speeds; against the stop nothing scatters
but the road and the air. A throttle held part open the same way each time cannot be told from a weaker engine.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from gearfit.records.thrust_results import HardestRiding
from gearfit.thrust.envelope import Open
from gearfit.thrust.first_gear import Weighed
from gearfit.thrust.fit import Question, fit_thrust

#: Share of the stated limit that has to be reached, and in how many gears (ours: riders change up at 85 to 95 %).
_REACHES: Final = 0.85
_GEARS: Final = 2
#: Stretches are compared that come this near to the highest engine speed, share: there the hand shows most.
_NEAR_TOP: Final = 0.8
#: Shorter stretches say little, and the throttle was being opened or closed in much of them, s.
_LEAST_S: Final = 0.75
#: Where samples come as often as this, s, those next to a change of gear are already without gear.
_OFTEN_S: Final = 0.15
#: Spread of thrust from stretch to stretch, share: against the stop (gusts), and by hand (both ours; 3 % of the grip's
#: way is 2 to 4 % of the torque at high engine speeds).
_AT_THE_STOP: Final = 0.01
_BY_HAND: Final = (0.03, 0.04, 0.06, 0.08)
#: How much likelier the stop has to make the ride than the hand.
_LEAST_ODDS: Final = 10.0


def short_of_full_throttle(
    question: Question, weighed: tuple[Weighed, ...], limit_rpm: float | None
) -> HardestRiding | None:
    """Say what was ridden hardest where it is not seen to be full throttle; None where it is.

    Parameters
    ----------
    question : Question
        The hardest stretches.
    weighed : tuple of Weighed
        What the fit found of first gear: one that was held back says nothing about the hand.
    limit_rpm : float or None
        As stated.
    """
    highest = sorted(_highest_rpm(question).values(), reverse=True)
    reached = highest[_GEARS - 1] if len(highest) >= _GEARS else 0.0
    held_back = bool(np.isfinite(weighed[0].fit.cap_mps2))
    reaches = limit_rpm is not None and reached >= _REACHES * limit_rpm
    repeats = reaches and _odds(question, held_back, _NEAR_TOP * reached) >= _LEAST_ODDS
    if repeats:
        return None
    driven = sum(stretch.gear > 0 for stretch in question.stretches)
    return HardestRiding(driven, len(highest), reached, limit_rpm, reaches)


def _highest_rpm(question: Question) -> dict[int, float]:
    found: dict[int, float] = {}
    for stretch in question.stretches:
        if stretch.gear:
            rpm = float(stretch.trace.speed_mps[stretch.place].max()) / question.speed_per_rpm[stretch.gear]
            found[stretch.gear] = max(found.get(stretch.gear, 0.0), rpm)
    return found


def _odds(question: Question, held_back: bool, enough_rpm: float) -> float:
    """How much likelier the stop makes the thrust of the stretches than the hand."""
    kept = [s for s in question.stretches if s.gear == 0 or _compared(s, question, held_back, enough_rpm)]
    if not any(stretch.gear for stretch in kept):
        return 0.0
    compared = replace(question, stretches=[_inner(stretch) if stretch.gear else stretch for stretch in kept])
    stop = fit_thrust(compared, _AT_THE_STOP).log_evidence
    by_hand = [fit_thrust(compared, sd).log_evidence - stop for sd in _BY_HAND]
    return float(np.exp(-np.logaddexp.reduce(by_hand)) * len(_BY_HAND))


def _compared(stretch: Open, question: Question, held_back: bool, enough_rpm: float) -> bool:
    time, speed = stretch.trace.time_s[stretch.place], stretch.trace.speed_mps[stretch.place]
    near_top = float(speed.max()) / question.speed_per_rpm[stretch.gear] > enough_rpm
    return near_top and float(time[-1] - time[0]) > _LEAST_S and not (held_back and stretch.gear == 1)


def _inner(stretch: Open) -> Open:
    """Leave out the first and the last of few samples: the throttle may have been moving in them."""
    if stretch.trace.step_s < _OFTEN_S:
        return stretch
    return replace(stretch, place=slice(stretch.place.start + 1, stretch.place.stop - 1))
