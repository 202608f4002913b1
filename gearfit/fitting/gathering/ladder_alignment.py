"""How the clocks of two recorders stand in a short ride: at the true offset the ratios lie on the stated ladder.

A ride of twenty seconds is too short for its ratios to crowd more at the true offset than at any other. Where the
gearbox is stated, the odds of its ladder (`gearfit.fitting.which_gear.evidence`) tell: each offset is a hypothesis,
all equally likely beforehand, so that the best has to pay for how many were tried.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from gearfit.fitting.pairing.alignment import candidates
from gearfit.fitting.pairing.stream import Stream
from gearfit.fitting.which_gear.evidence import LEAST_ODDS, place
from gearfit.fitting.which_gear.ladder import Ladder

#: Rides with no more speeds' time than this are short, s: longer ones show the offset without a ladder.
_SHORT_S: Final = 120.0
#: Offsets by which the changes of speed agree are right to this, s; around each these are tried.
_ASIDE_S: Final = (-0.75, 0.0, 0.75)
#: ... of the best so many, and at this many samples a second at most.
_CANDIDATES: Final = 12
_RATE_HZ: Final = 10.0
#: Share of the shorter recording that both must share.
_LEAST_SHARE: Final = 0.6
#: Offsets nearer than this are one, s.
_SAME_S: Final = 1.5


def offset_by_ladder(stream: Stream, ladder: Ladder) -> float | None:
    """Find what to add to the engine speed's times, s; None where the ride is long or no offset stands out.

    Parameters
    ----------
    stream : Stream
        Speeds and engine speeds, each counting from its own start.
    ladder : Ladder
        Of stated tooth counts.
    """
    if stream.time_s.size < 2 or stream.rpm_time_s.size < 2 or np.ptp(stream.time_s) > _SHORT_S:
        return None
    stream = _thinned(stream)
    ours, theirs = (stream.time_s, stream.speed_mps), (stream.rpm_time_s, stream.engine_rpm)
    rough = candidates(*ours, *theirs, -float(np.ptp(theirs[0])), float(np.ptp(ours[0])))[:_CANDIDATES]
    tried = [
        (odds, offset_s) for c in rough for aside in _ASIDE_S for odds, offset_s in _placed(stream, ladder, c + aside)
    ]
    if not tried:
        return None
    best, offset_s = max(tried)
    rival = max((odds for odds, other_s in tried if abs(other_s - offset_s) > _SAME_S), default=-np.inf)
    sure = best - np.log(len(tried)) >= LEAST_ODDS and best - rival >= LEAST_ODDS
    return offset_s if sure else None


def _placed(stream: Stream, ladder: Ladder, offset_s: float) -> list[tuple[float, float]]:
    """Log odds of the ladder near an offset, and the offset with the lag taken out; none where too little is shared."""
    moved = replace(stream, rpm_time_s=stream.rpm_time_s + offset_s)
    first = max(moved.time_s[0], moved.rpm_time_s[0])
    shared_s = min(moved.time_s[-1], moved.rpm_time_s[-1]) - first
    if shared_s < _LEAST_SHARE * min(np.ptp(moved.time_s), np.ptp(moved.rpm_time_s)):
        return []
    found = place([moved], ladder)
    return [] if found is None else [(found.odds, offset_s + found.lags[0][0])]


def _thinned(stream: Stream) -> Stream:
    """Leave some ten speeds a second."""
    usual_s = float(np.median(np.diff(stream.time_s)))
    every = max(1, round(1 / (_RATE_HZ * usual_s))) if usual_s > 0 else 1
    return replace(
        stream,
        rows=stream.rows[::every],
        time_s=stream.time_s[::every],
        speed_mps=stream.speed_mps[::every],
        speed_sd_mps=stream.speed_sd_mps[::every],
    )
