"""Puts the swap on paper beside a comparison of two setups: the prediction from the reference's ride alone."""

from __future__ import annotations

from dataclasses import replace

from gearfit.bike import Bike
from gearfit.recording import RideSetup
from gearfit.results import Comparison, SetupResult
from gearfit.thrust.paper import USUAL_SPANS, swap_on_paper
from gearfit.thrust.swap import Asked

_SAME_MPS = 0.05


def with_swap(bike: Bike, ride: RideSetup, reference: SetupResult, comparison: Comparison) -> Comparison:
    """Return the comparison with the swap on paper, and with the predicted difference of each span that was timed.

    Without tooth counts the measured change of all gears is taken; without either there is nothing to predict.
    """
    change = comparison.predicted_change_percent
    if change is None and comparison.all_gears_change_percent is not None:
        change = comparison.all_gears_change_percent.value
    if change is None or not reference.gears:
        return comparison
    spans = [Asked(span.from_mps, span.to_mps, *_ridden_how(span)) for span in comparison.timed_spans]
    asked = [*spans, *(usual for usual in USUAL_SPANS if not any(_same(usual, span) for span in spans))]
    swap = swap_on_paper(bike, ride, reference, comparison.other, 1 + change / 100, asked)
    if swap is None:
        return comparison
    timed = tuple(
        replace(span, predicted_difference_s=predicted.difference_s)
        for span, predicted in zip(comparison.timed_spans, swap.spans[: len(spans)], strict=True)
    )
    return replace(comparison, timed_spans=timed, swap=swap)


def _ridden_how(span: object) -> tuple[str, tuple[int, ...]]:
    """Way of riding and gears of a span where the comparison knows them."""
    how, gears = getattr(span, "how", ""), getattr(span, "gears", ())
    return str(how), tuple(gears)


def _same(one: Asked, other: Asked) -> bool:
    return abs(one.from_mps - other.from_mps) < _SAME_MPS and abs(one.to_mps - other.to_mps) < _SAME_MPS
