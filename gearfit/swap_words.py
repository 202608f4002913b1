"""What a swap on paper rests on and does not reach, in words for findings and terminal alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearfit.words import number, span_label

if TYPE_CHECKING:
    from gearfit.thrust_results import SwapOnPaper


def shifting(swap: SwapOnPaper) -> str:
    """Say how the rider of a swap on paper changes up; "" where that is assumed (see `assumed`)."""
    if swap.shift_runs == 0:
        return ""
    as_in = "as ridden" if swap.shift_runs > 1 else "as in the one run"
    return f"shifting at {number(swap.used_shift_rpm, 0)} rpm in {number(swap.used_shift_s)} s {as_in}"


def assumed(swap: SwapOnPaper) -> str:
    """Say what a swap on paper takes for granted that the ride does not show; "" where there is nothing."""
    parts = []
    if swap.shift_runs == 0:
        share = number(100 * swap.used_shift_rpm / swap.limit_rpm, 0)
        parts.append(
            f"shifts at {number(swap.used_shift_rpm, 0)} rpm ({share} % of the limit) in {number(swap.used_shift_s)} s"
        )
    if swap.drag_from == "assumed":
        parts.append("the usual drag of a machine of this mass, for nobody coasted in neutral")
    return f"Assumed: {'; '.join(parts)}." if parts else ""


def unreached(swap: SwapOnPaper, unit: str) -> str:
    """Name the spans that are not reached on paper; "" where all are, or no start was seen."""
    spans = [span_label(span.from_mps, span.to_mps, unit) for span in swap.spans if span.difference_s is None]
    return f"Not reached on paper: {', '.join(dict.fromkeys(spans))}." if spans and swap.starts else ""
