"""Which runs of two setups may be compared: not where the speeds that began and ended them are two kinds of speed."""

from __future__ import annotations

from gearfit.comparison.shift import as_predicted
from gearfit.machine.bike import Bike
from gearfit.records.results import Estimate, SetupResult, TimedSpan

Runs = tuple[TimedSpan, ...]


def mixes_kinds(source: str, other: str) -> bool:
    """Whether one of two speed sources is the machine's own and the other is not, so that its error does not cancel."""
    return source != other and "machine" in (source, other)


def comparable_runs(
    bike: Bike, reference: SetupResult, other: SetupResult, change: Estimate | None, predicted_percent: float | None
) -> tuple[Runs, Runs]:
    """Return the runs of two setups that may be compared.

    A speed that the machine itself says may be reckoned with other sprockets than those fitted, and so be off by
    another factor after a swap: runs found in such a ride ended at another true speed. They count where the pick-up is
    stated to be at a wheel, and where the change follows the teeth; never against those of another kind of speed.

    Parameters
    ----------
    bike : Bike
        States where the speed is taken from.
    reference, other : SetupResult
        The two setups.
    change, predicted_percent : Estimate or None, float or None
        Measured and predicted change of road speed at the same engine speed.
    """
    if "machine" not in (reference.speed_source, other.speed_source):
        return reference.timed_spans, other.timed_spans
    follows = change is not None and predicted_percent is not None and as_predicted(change, predicted_percent)
    if not mixes_kinds(reference.speed_source, other.speed_source) and (
        bike.speedometer.at_wheel or follows or predicted_percent is None
    ):
        return reference.timed_spans, other.timed_spans
    return _by_hand(reference.timed_spans), _by_hand(other.timed_spans)


def _by_hand(runs: Runs) -> Runs:
    return tuple(run for run in runs if run.kind == "stopwatch")
