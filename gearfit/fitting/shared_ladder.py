"""One ladder for several setups of a machine whose tooth counts are not known."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from gearfit.fitting.ladder import Ladder
from gearfit.fitting.levels import Levels

FloatArray = NDArray[np.float64]

#: Two steps of two setups are the same gear within this, ln ratio, once the common shift is out.
_SAME_STEP: Final = 0.035
#: How large a change of gearing is thought of beforehand, ln ratio.
_OVERLAY_SD: Final = 0.08


def one_ladder(shown: Sequence[Levels]) -> Ladder:
    """Make one ladder of the gears that several setups have shown (at least one).

    The setup with the most gears leads. Each other is laid over it with one common shift (its change of gearing);
    steps of its own that match none are added.
    """
    lead = max(shown, key=lambda levels: levels.gear.size)
    ladder = np.sort(lead.log_ratio)[::-1]
    for levels in shown:
        if levels is lead:
            continue
        shift = _overlay(levels.log_ratio, ladder)
        moved = levels.log_ratio - shift
        new = [m for m in moved if np.min(np.abs(ladder - m)) > _SAME_STEP]
        ladder = np.sort(np.append(ladder, new))[::-1]
    return Ladder(ladder, 0.0, _OVERLAY_SD, "from the samples")


def _overlay(values: FloatArray, ladder: FloatArray) -> float:
    """Shift that lays most `values` on steps of `ladder`, small shifts preferred."""
    shifts = np.unique((values[:, None] - ladder[None, :]).ravel())
    shifts = shifts[np.abs(shifts) < 4 * _OVERLAY_SD]
    if shifts.size == 0:
        return 0.0
    distance = np.min(np.abs(values[None, :, None] - shifts[:, None, None] - ladder[None, None, :]), axis=2)
    score = np.sum(np.exp(-0.5 * (distance / (_SAME_STEP / 3)) ** 2), axis=1) - 0.5 * (shifts / _OVERLAY_SD) ** 2
    return float(shifts[np.argmax(score)])
