"""Where the speedometer is driven from, told by how its gain moved with the final drive.

A pick-up before the final drive (gearbox output) counts more turns per metre after a shorter gearing, so the gain
moves by the factor of the sprockets; one at a wheel does not see them. Which wheel, only a change of the driven tyre
can tell.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import stdtridf, stdtrit

from gearfit.comparison.shift import Shift
from gearfit.machine.bike import Setup
from gearfit.prediction.gearing import change_percent
from gearfit.prediction.instruments import instrument_effects
from gearfit.records.estimate import Estimate
from gearfit.records.results import Speedometer

GEARBOX: Final = "gearbox output"
WHEEL: Final = "a wheel"
NEITHER: Final = "neither"
CANNOT_TELL: Final = "cannot tell"

#: A pick-up is possible while it lies within the interval of this probability to each side, so that a true one is given
#: up in fewer than one of a hundred cases. With few readings, whose scatter may be small by luck, that is far wider
#: than the 95 % interval (Student's t).
_REACH: Final = 0.999
#: Half widths of the 95 % interval below which its degrees of freedom are endless, in standard errors.
_GAUSS: Final = 1.9601
#: A pick-up is claimed only where the others predict a change at least this many half widths away: readings too coarse
#: for that could single one out by luck alone.
_APART: Final = 2.0
#: Gains that pick-ups predict count as the same below this relative difference.
_SAME: Final = 1e-6


@dataclass(frozen=True)
class PickUp:
    """What the gain says about the pick-up.

    Attributes
    ----------
    driven_from : str
        "gearbox output", "a wheel", "rear wheel", "front wheel", "neither" or "cannot tell".
    gain_percent : Estimate
        Change of the gain, other setup against reference.
    expected_percent : tuple of (str, float)
        The change that each pick-up leads one to expect.
    """

    driven_from: str
    gain_percent: Estimate
    expected_percent: tuple[tuple[str, float], ...]


def pick_up(
    reference: Setup, other: Setup, before: Speedometer, after: Speedometer, shift: Shift | None = None
) -> PickUp | None:
    """Tell the pick-up from the gains before and after.

    Parameters
    ----------
    reference, other : Setup
        The two setups.
    before, after : Speedometer
        Their instruments.
    shift : Shift, optional
        Measured change of the gears, which serves where the tooth counts are not stated.

    Returns
    -------
    PickUp or None
        None where neither tooth counts nor gears tell how the gearing moved.
    """
    expected = _expected(reference, other, shift)
    if expected is None:
        return None
    hypotheses, expected_half = expected
    change = float(np.log(after.gain.value / before.gain.value))
    own_half = float(np.hypot(_log_half(before.gain), _log_half(after.gain)))
    se = float(np.hypot(before.gain.se / before.gain.value, after.gain.se / after.gain.value))
    reach = float(np.hypot(_log_reach(before.gain), _log_reach(after.gain)))
    possible = []
    for name, log_ratio in hypotheses:
        gearing = expected_half * stdtrit(np.inf, _REACH) / _GAUSS if name == GEARBOX else 0.0
        if abs(change - log_ratio) <= float(np.hypot(reach, gearing)):
            possible.append(name)
    percent = Estimate(
        *(float(100 * np.expm1(change)), float(100 * np.exp(change) * se)),
        *(float(100 * np.expm1(change + sign * own_half)) for sign in (-1, 1)),
    )
    told = possible[0] if len(possible) == 1 else CANNOT_TELL if possible else NEITHER
    if told != NEITHER and not _apart(told, hypotheses, float(np.hypot(own_half, expected_half))):
        told = CANNOT_TELL
    return PickUp(told, percent, tuple((name, float(100 * np.expm1(ratio))) for name, ratio in hypotheses))


def _apart(told: str, hypotheses: list[tuple[str, float]], half: float) -> bool:
    """Whether all other pick-ups predict a change far enough from that of `told`; False without any other."""
    expected = dict(hypotheses)
    others = [ratio for name, ratio in hypotheses if name != told]
    return told in expected and bool(others) and min(abs(r - expected[told]) for r in others) >= _APART * half


def _log_reach(gain: Estimate) -> float:
    """Half width of the interval within which a gain is possible, in its logarithm."""
    if gain.se <= 0:
        return 0.0
    half = (gain.hi95 - gain.lo95) / 2 / gain.se
    dof = float(stdtridf(0.975, half)) if half > _GAUSS else float(np.inf)
    return float(stdtrit(dof, _REACH)) * gain.se / gain.value


def _log_half(gain: Estimate) -> float:
    return (gain.hi95 - gain.lo95) / 2 / gain.value


def _expected(reference: Setup, other: Setup, shift: Shift | None) -> tuple[list[tuple[str, float]], float] | None:
    """Logarithm of the gain's change for each pick-up that can be told apart, and the half width of the gearing's."""
    predicted = change_percent(reference, other)
    half = 0.0
    if predicted is not None and reference.final_drive.reduction and other.final_drive.reduction:
        teeth = reference.final_drive.reduction / other.final_drive.reduction
        tyre = (1 + predicted / 100) / teeth
    elif shift is not None and shift.all_gears_percent is not None:
        teeth, tyre = float(np.exp(shift.log_change)), 1.0
        ends = shift.all_gears_percent
        half = (ends.hi95 - ends.lo95) / 2 / (100 + ends.value)
    else:
        return None
    effects = {
        e.driven_from: float(np.log1p(e.reading_percent / 100)) for e in instrument_effects("unknown", teeth, tyre)
    }
    hypotheses = [(GEARBOX, effects[GEARBOX])]
    if abs(effects["rear wheel"] - effects["front wheel"]) < _SAME:
        hypotheses.append((WHEEL, effects["rear wheel"]))
    else:
        hypotheses += [(name, effects[name]) for name in ("rear wheel", "front wheel")]
    if abs(hypotheses[0][1] - hypotheses[1][1]) < _SAME and len(hypotheses) == 2:
        hypotheses = hypotheses[1:]
    return hypotheses, half
