"""The whole analysis of a ride folder: fit each setup, compare, put it into words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from gearfit.comparison.comparable_runs import comparable_runs, mixes_kinds
from gearfit.comparison.shift import NOTHING, Shift, shift, undecided, with_common_error
from gearfit.comparison.shown_reduction import of_the_gearbox, shown_reduction
from gearfit.comparison.slipped_times import without_slips
from gearfit.comparison.timed_spans import compare_spans, single_runs
from gearfit.comparison.tooth_pairs import check_pairs, sees_sprockets
from gearfit.findings import find
from gearfit.findings.facts import Facts, Pair
from gearfit.fitting.held.ground import tracks_of
from gearfit.fitting.setup_fit import SetupFit, demand_use, fit_setups, gather_setup
from gearfit.fitting.setup_summary import MACHINE_SPEED_SD, summarise
from gearfit.fitting.which_gear.ladder import from_teeth
from gearfit.fitting.which_gear.numbering import SURE
from gearfit.importers import read_folder
from gearfit.machine.bike import Bike
from gearfit.machine.tyre import likely
from gearfit.prediction.gearing import change_percent
from gearfit.records.recording import RideFolder, RideSetup
from gearfit.records.results import Analysis, Comparison, SetupResult, Speedometer, SprocketCheck, TimedSpan
from gearfit.speedometer.check import check_setup
from gearfit.speedometer.rules import Rule, rule
from gearfit.thrust.compare import predicted_difference, with_swap
from gearfit.thrust.swap import Asked
from gearfit.timed.asked import USUAL_SPANS, Span, each_once
from gearfit.timed.find import find_runs


def analyse(
    folder: RideFolder | str | Path,
    speed_unit: str | None = None,
    regulation: str | None = None,
    spans: Sequence[Span] = USUAL_SPANS,
) -> Analysis:
    """Analyse a ride folder.

    Parameters
    ----------
    folder : RideFolder, str or Path
        As `gearfit.read_folder` returns it, or where it lies.
    speed_unit : {"kmh", "mph"}, optional
        The unit in which findings speak and the report will show speeds; that of the sheets where not given.
    regulation : {"UNECE R39", "49 CFR 393.82", "none"}, optional
        Rule for the speedometer; that of bike.toml where not given.
    spans : sequence of Span
        Which standing starts and roll-ons are looked for in the rides, and predicted;
        one given twice, or nearly so, counts once.

    Returns
    -------
    Analysis
        Setups in the folder's order, each later one compared with the first.

    Raises
    ------
    LogError
        A setup has no sample with both speed and engine speed, and no timed run.
    ValueError
        `speed_unit` or `regulation` is none of these.
    """
    if speed_unit not in (None, "kmh", "mph"):
        raise ValueError(f"speed_unit is {speed_unit!r}; allowed are 'kmh' and 'mph'")
    folder = folder if isinstance(folder, RideFolder) else read_folder(folder)
    speed_unit = speed_unit or folder.written_unit
    fits = _fit(folder)
    known = _trusted(folder, fits)
    against = rule(regulation or folder.bike.speedometer.regulation, unit=speed_unit)
    asked = each_once(spans)
    judge = partial(_judge, known.bike, against, speed_unit, asked)
    judged, unjudged = zip(*map(judge, folder.setups, fits), strict=True)
    results = tuple(without_slips(judged))
    pairs = tuple(
        _compare(known.bike, (results[0], fits[0]), (result, fit))
        for result, fit in zip(results[1:], fits[1:], strict=True)
    )
    pairs = tuple(_with_swap(known, pair, asked) for pair in pairs)
    comparisons = tuple(pair.comparison for pair in pairs)
    facts = Facts(known, speed_unit, results, tuple(fits), pairs, unjudged)
    found = Analysis(folder.bike, speed_unit, results, comparisons, find(facts))
    return replace(found, restated=_restated(found, facts, against))


def _trusted(folder: RideFolder, fits: Sequence[SetupFit]) -> RideFolder:
    """Leave out the stated gearbox where it lacks gears that the sheets show: nobody knows which ratio is whose."""
    if not any(fit.lacking for fit in fits):
        return folder
    return replace(folder, bike=replace(folder.bike, gearbox=replace(folder.bike.gearbox, gears=None)))


def _judge(
    bike: Bike, against: Rule, speed_unit: str, spans: Sequence[Span], ride: RideSetup, fit: SetupFit
) -> tuple[SetupResult, str]:
    """Say what one setup shows, and why its speedometer cannot be judged where that is so."""
    instrument = check_setup(bike, ride, fit, against, speed_unit)
    judged, why_not = (None, instrument) if isinstance(instrument, str) else (instrument, "")
    result = _without_doubtful(bike, replace(summarise(bike, ride, fit, _runs(ride)), speedometer=judged), fit)
    return _with_runs(result, ride, fit, spans), why_not


def _without_doubtful(bike: Bike, result: SetupResult, fit: SetupFit) -> SetupResult:
    """Give no circumference where the stated ratios must be wrong: it would be as far off as they are."""
    found, shown = result.circumference, shown_reduction(bike, result.setup, fit.levels, result.speed_source)
    if found is None or (not (shown and shown.doubts(result.setup.final_drive)) and likely(found.estimate_m.value)):
        return result
    return replace(result, circumference=None)


def _restated(found: Analysis, facts: Facts, against: Rule) -> Analysis:
    """Say the same in the other unit of speed; only words and round numbers of the dash card differ."""
    unit = "mph" if found.speed_unit == "kmh" else "kmh"
    folder, results = facts.folder, list(found.setups)
    for index, (ride, fit) in enumerate(zip(folder.setups, facts.fits, strict=True)):
        if results[index].speedometer is not None:
            instrument = check_setup(folder.bike, ride, fit, against, unit)
            results[index] = replace(
                results[index], speedometer=instrument if isinstance(instrument, Speedometer) else None
            )
    of = {result.setup.name: result for result in results}
    pairs = tuple(
        replace(pair, reference=of[pair.reference.setup.name], other=of[pair.other.setup.name]) for pair in facts.pairs
    )
    said = replace(facts, speed_unit=unit, results=tuple(results), pairs=pairs)
    return replace(found, speed_unit=unit, setups=tuple(results), findings=find(said))


def _with_swap(folder: RideFolder, pair: Pair, spans: Sequence[Span]) -> Pair:
    """Add the swap on paper, and put what it predicts beside the measured differences."""
    asked = [Asked(span.from_mps, span.to_mps) for span in spans]
    found = with_swap(folder.bike, folder.setups[0], pair.reference, pair.comparison, asked)
    runs = comparable_runs(
        folder.bike, pair.reference, pair.other, found.all_gears_change_percent, found.predicted_change_percent
    )
    timed = compare_spans(*runs, lambda run: predicted_difference(found.swap, run))
    return replace(pair, comparison=replace(found, timed_spans=timed))


def _runs(ride: RideSetup) -> tuple[TimedSpan, ...]:
    return tuple(run for recording in ride.recordings for run in single_runs(recording.runs))


def _began(ride: RideSetup) -> float | None:
    starts = [r.start_s for r in ride.recordings if r.clock == "utc" and r.start_s is not None]
    return min(starts, default=None)


def _with_runs(result: SetupResult, ride: RideSetup, fit: SetupFit, spans: Sequence[Span]) -> SetupResult:
    """Add the runs that the rides of a setup show; without any it must tell something else."""
    found = find_runs(ride, fit, result.samples, spans)
    if not found.timed and not found.left_out:
        demand_use(ride, fit.material)
    timed = (*result.timed_spans, *found.timed)
    tracks = tracks_of(ride, result.samples, timed)
    return replace(result, timed_spans=timed, left_out_runs=found.left_out, tracks=tracks, ridden_unix_s=_began(ride))


def _fit(folder: RideFolder) -> list[SetupFit]:
    """Fit all setups together, with what the tooth counts say of each."""
    reference = folder.setups[0].setup
    changes = [change_percent(reference, ride.setup) for ride in folder.setups]
    ladders = [from_teeth(folder.bike, ride.setup) for ride in folder.setups]
    return fit_setups(
        [gather_setup(*entry) for entry in zip(folder.setups, ladders, strict=True)],
        ladders,
        [None if change is None else math.log1p(change / 100) for change in changes],
    )


def _compare(bike: Bike, first: tuple[SetupResult, SetupFit], second: tuple[SetupResult, SetupFit]) -> Pair:
    (reference, reference_fit), (other, other_fit) = first, second
    predicted = change_percent(reference.setup, other.setup)
    same_tyre = reference.setup.tyre == other.setup.tyre
    unclear = min(reference_fit.change_log_odds, other_fit.change_log_odds) < SURE
    moved = NOTHING if unclear else shift(reference_fit.levels, other_fit.levels, predicted, same_tyre=same_tyre)
    if mixes_kinds(reference.speed_source, other.speed_source):
        moved = with_common_error(moved, MACHINE_SPEED_SD)
    check = _sprockets(bike, first, second, moved)
    comparison = Comparison(
        reference=reference.setup.name,
        other=other.setup.name,
        predicted_change_percent=predicted,
        gears=moved.gears,
        all_gears_change_percent=moved.all_gears_percent,
        sprocket_candidates=() if check is None else check.candidates,
        timed_spans=compare_spans(*comparable_runs(bike, reference, other, moved.all_gears_percent, predicted)),
        sprocket_check=check,
    )
    return Pair(reference, other, moved, comparison, unclear)


def _sprockets(
    bike: Bike, first: tuple[SetupResult, SetupFit], second: tuple[SetupResult, SetupFit], moved: Shift
) -> SprocketCheck | None:
    (reference, _), (other, _) = first, second
    sources = reference.speed_source, other.speed_source
    if not sees_sprockets(sources, bike.speedometer.driven_from, moved):
        return None
    if undecided(moved.all_gears_percent, change_percent(reference.setup, other.setup)):
        return None
    shown = [shown_reduction(bike, result.setup, fit.levels, result.speed_source) for result, fit in (first, second)]
    if of_the_gearbox(shown[0], reference.setup.final_drive, shown[1], other.setup.final_drive):
        shown = [None, None]
    return check_pairs(reference.setup, other.setup, moved, (shown[0], shown[1]))
