"""Puts the swap on paper beside a comparison of two setups: the prediction from the reference's ride alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from gearfit.machine.bike import Bike
from gearfit.records.recording import RideSetup
from gearfit.records.results import Comparison, Estimate, HardestRiding, SetupResult, SwapOnPaper, TimedSpan
from gearfit.thrust.paper import USUAL_SPANS, on_paper
from gearfit.thrust.swap import Asked

#: Speeds that differ by less than this are one, m/s.
_SAME_MPS: Final = 0.05
#: Manners that are one run through the gears on paper, as is an unknown one.
_THROUGH: Final = ("standing start", "through the gears")


def with_swap(
    bike: Bike,
    ride: RideSetup,
    reference: SetupResult,
    comparison: Comparison,
    spans: Sequence[Asked] = USUAL_SPANS,
) -> Comparison:
    """Return the comparison with the swap on paper, whose spans are those that were timed, then those asked for.

    Without tooth counts the measured change of all gears is taken; without either there is nothing to predict.
    """
    change = comparison.predicted_change_percent
    if change is None and comparison.all_gears_change_percent is not None:
        change = comparison.all_gears_change_percent.value
    if change is None or not reference.gears:
        return comparison
    timed = _each_once(
        Asked(span.from_mps, span.to_mps, span.how, span.gears if span.how == "roll-on" else ())
        for span in comparison.timed_spans
    )
    asked = [*timed, *(span for span in spans if not any(_same(span, one) for one in timed))]
    found = on_paper(bike, ride, reference, comparison.other, 1 + change / 100, asked)
    if isinstance(found, HardestRiding):
        return replace(comparison, hardest=found)
    return replace(comparison, swap=found)


def predicted_difference(swap: SwapOnPaper | None, run: TimedSpan) -> Estimate | None:
    """Return what the swap on paper says of a run's span, ridden in the same way; None where it cannot say.

    Runs through the gears are predicted as part of a standing start: not where they begin in another gear than that.
    A hand-timed run, of which nobody noted how it was ridden, is one through the gears; where the spans hold none, the
    only way in which it was ridden, if there is but one.
    """
    if swap is None or (run.how == "through the gears" and run.gears_alike and not _as_in_a_start(swap, run)):
        return None
    gears = run.gears if run.how == "roll-on" else ()
    same = [s for s in swap.spans if _same(Asked(s.from_mps, s.to_mps), Asked(run.from_mps, run.to_mps))]
    alike = [s for s in same if s.how == run.how and s.gears == gears]
    if not alike and run.how == "":
        alike = [s for s in same if s.how in _THROUGH] or (same if len(same) == 1 else [])
    return alike[0].difference_s if alike else None


def _as_in_a_start(swap: SwapOnPaper, run: TimedSpan) -> bool:
    courses = [side.course for side in (swap.reference, swap.other) if side.course is not None]
    begun = [
        next((gear for v, gear in zip(each.speed_mps, each.gear, strict=True) if v >= run.from_mps and gear), 0)
        for each in courses
    ]
    return begun == [run.gears[0]] * 2


def _each_once(spans: Iterable[Asked]) -> list[Asked]:
    """Leave out what is asked twice; one of unknown manner counts as the one through the gears, where that is there."""
    unlike = list(dict.fromkeys(spans))
    through = [span for span in unlike if span.how in _THROUGH]
    return [span for span in unlike if span.how or not any(_same(span, other) for other in through)]


def _same(one: Asked, other: Asked) -> bool:
    return abs(one.from_mps - other.from_mps) < _SAME_MPS and abs(one.to_mps - other.to_mps) < _SAME_MPS
