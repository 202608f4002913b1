"""Times with the other gearing, predicted from a ride, as plain text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from gearfit.records.words import NOTHING, number, span_label
from gearfit.wording.columns import paragraph, table
from gearfit.wording.swap_words import assumed, hardest, held_back, shifting, unreached

if TYPE_CHECKING:
    from gearfit.records.thrust_results import SpanPrediction, SwapOnPaper

CAUTION: Final = "Arithmetic, not advice: timed runs belong on a closed road or track"
#: Not said where what is stated of either bounds the figures.
_UNKNOWN_START: Final = ", and how hard a start front wheel and grip allow, the figures do not know"


def ride_swap_lines(swap: SwapOnPaper | None, unit: str) -> list[str]:
    """Write the times of each span and why they change, or which spans are not reached; nothing without a prediction."""
    if swap is None:
        return []
    if all(span.difference_s is None for span in swap.spans):
        missed = unreached(swap, unit)
        return paragraph(missed) if missed else []
    caution = f"{CAUTION}{'' if swap.lift_capped or swap.grip_capped else _UNKNOWN_START}."
    missed = unreached(swap, unit)
    rows = [_row(span, unit) for span in swap.spans if span.difference_s is not None]
    heads = ["span", "difference s", "95 % interval", "now s", "after s", "shifts now", "after"]
    return [*table(heads, rows), *(paragraph(missed) if missed else []), *paragraph(_why(swap)), *paragraph(caution)]


def _row(span: SpanPrediction, unit: str) -> list[str]:
    found = span.difference_s
    return [
        span_label(span.from_mps, span.to_mps, unit),
        NOTHING if found is None else number(found.value, signed=True),
        NOTHING if found is None else f"{number(found.lo95, signed=True)} to {number(found.hi95, signed=True)}",
        NOTHING if span.reference_s is None else number(span.reference_s.value),
        NOTHING if span.other_s is None else number(span.other_s.value),
        str(span.shifts_reference),
        str(span.shifts_other),
    ]


def _why(swap: SwapOnPaper) -> str:
    said = (
        f"Why: thrust at the wheel {number(swap.thrust_percent, 1, signed=True)} % in every gear, each gear's speeds "
        f"{number(swap.speed_percent, 1, signed=True)} %. {hardest(swap)}"
    )
    said = "; ".join(part for part in (said, shifting(swap)) if part) + "."
    if assumed(swap):
        said += f" {assumed(swap)}"
    held = f" {held_back(swap)}" if held_back(swap) else ""
    capped = ""
    if swap.lift_capped:
        capped = (
            " Acceleration is taken no higher than the stated centre of gravity lets the front wheel stay down, or than "
            "was ridden."
        )
    elif swap.grip_capped:
        capped = " The force on the road is taken no higher than the stated grip of the driven tyre allows, or than was ridden."
    return f"{said}{held}{capped}"
