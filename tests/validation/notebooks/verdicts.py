"""Words for how a printed number stands to the truth, and the rule for intervals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

RIGHT: Final = "right"
NARROW: Final = "interval too narrow"
CANNOT: Final = "cannot tell"
REFUSED: Final = "refused"
WARNED: Final = "warned"
#: A warning names the doubt, but the lines on the terminal print the number without a word of it.
WARNED_BELOW: Final = "warned, headline sure"
SILENT: Final = "no number, no word"
WRONG: Final = "wrong as if sure"
CRASH: Final = "crash"
VERDICTS: Final = (RIGHT, NARROW, CANNOT, REFUSED, WARNED, WARNED_BELOW, SILENT, WRONG, CRASH)
#: Verdicts whose seeds are listed.
BAD: Final = (CRASH, WRONG, WARNED_BELOW, SILENT)

CHANGE: Final = "change of all gears"
GEAR_CHANGE: Final = "change per gear"
CIRCUMFERENCE: Final = "circumference of each setup"
SPROCKETS: Final = "sprocket candidate at 80 % or more"
NUMBERING: Final = "numbering of gears"
ROWS: Final = "rows called out of line"
GEAR_CLAIM: Final = "gear called out of line"
TIMED: Final = "timed difference"
SUBJECTS: Final = (CHANGE, GEAR_CHANGE, CIRCUMFERENCE, SPROCKETS, NUMBERING, ROWS, GEAR_CLAIM, TIMED)

#: A miss below this is no wrong number whatever the interval: per cent of change, of circumference, of a time.
CHANGE_FLOOR_PERCENT: Final = 0.5
CIRCUMFERENCE_FLOOR: Final = 0.01
TIME_FLOOR: Final = 0.02


@dataclass(frozen=True)
class Verdict:
    """One printed number or claim, judged."""

    subject: str
    verdict: str
    #: What was printed and what is true, for the list.
    printed: str = ""
    truth: str = ""
    #: Half the width of the interval, where there is one.
    half: float | None = None


def grade(estimate: Mapping[str, float | None], truth: float, floor: float) -> str:
    """Compare an interval with the truth: wrong where it misses by more than half its width and the floor."""
    lo, hi = ends(estimate)
    miss = max(lo - truth, truth - hi)
    if miss <= 0:
        return RIGHT
    return WRONG if miss > (hi - lo) / 2 and miss > floor else NARROW


def no_number(estimate: Mapping[str, float | None] | None) -> bool:
    """Tell whether an estimate is null, as a whole or in its value."""
    return estimate is None or estimate["value"] is None


def ends(estimate: Mapping[str, float | None]) -> tuple[float, float]:
    """Both ends of an interval; a number that is printed without one stands for itself."""
    value, lo, hi = (estimate[key] for key in ("value", "lo95", "hi95"))
    assert value is not None
    return (value, value) if lo is None or hi is None else (lo, hi)


def shown(estimate: Mapping[str, float | None], decimals: int = 1, unit: str = " %") -> str:
    """An estimate as text."""
    lo, hi = ends(estimate)
    interval = "no interval" if estimate["lo95"] is None else f"{lo:.{decimals}f} to {hi:.{decimals}f}"
    return f"{estimate['value']:.{decimals}f} ({interval}){unit}"
