"""One ladder for several setups whose logs show gears without tooth counts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.which_gear.ladder import Ladder
from gearfit.fitting.which_gear.line_of_gears import filled
from gearfit.fitting.which_gear.numbering import UNSTATED_SD, Unplaced, number

FloatArray = NDArray[np.float64]

#: Two steps of two setups are the same gear within this, ln ratio, once the common shift is out.
_SAME_STEP: Final = 0.035
#: How well a setup's place on the ladder is known, ln ratio.
_PLACE_SD: Final = 0.02


def one_ladder(shown: Sequence[Levels], log_changes: Sequence[float | None]) -> list[tuple[Ladder, float]]:
    """Make one ladder of the gears that several setups have shown, and lay it over each.

    Parameters
    ----------
    shown : sequence of Levels
        At least one; the setup with the most gears leads. Steps of others that match none of its own are added,
        and a place for each gear that all of them skipped.
    log_changes : sequence of float or None
        What the teeth predict for each against the first, ln of speed at the same engine speed.

    Returns
    -------
    list of (Ladder, float)
        The ladder at each setup's place, and the log of odds of that place (next to the first setup) against the next
        best.
    """
    found = number(
        [
            Unplaced(
                log_ratio=levels.log_ratio,
                sd=np.sqrt(np.diag(levels.covariance)),
                gear=np.zeros(levels.gear.size, dtype=np.int64),
                ladder=None,
                expected=None,
                log_change=log_change,
            )
            for levels, log_change in zip(shown, log_changes, strict=True)
        ]
    )
    lead = max(range(len(shown)), key=lambda k: (shown[k].gear.size, -k))
    ladder = np.sort(shown[lead].log_ratio)[::-1]
    for k, levels in enumerate(shown):
        moved = levels.log_ratio - found[k].shift
        new = [m for m in moved if k != lead and np.min(np.abs(ladder - m)) > _SAME_STEP]
        ladder = np.sort(np.append(ladder, new))[::-1]
    _, ladder = filled(ladder)
    return [(Ladder(ladder, f.shift, _PLACE_SD, "from the samples"), f.change_log_odds) for f in found]


def laid_beside(ladder: Ladder, moved: float | None) -> Ladder:
    """Lay the ladder that one setup shows over another, which does not show its gears by itself.

    Parameters
    ----------
    ladder : Ladder
        At the place of the setup that shows it.
    moved : float or None
        ln of the change of speed between the two that the teeth predict; None where nothing is stated.
    """
    return Ladder(ladder.log_ratio, (ladder.expected_shift or 0.0) - (moved or 0.0), UNSTATED_SD, ladder.origin)
