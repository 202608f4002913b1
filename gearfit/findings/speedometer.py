"""What the speedometer shows against the true speed, what a rule says, what drives it, and what to set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from gearfit.comparison.pick_up import CANNOT_TELL, GEARBOX, NEITHER, WHEEL, PickUp, pick_up
from gearfit.findings.facts import Facts, Pair
from gearfit.findings.words import percent, percent_with_interval, speed
from gearfit.prediction.gearing import change_percent
from gearfit.prediction.instruments import InstrumentEffect, instrument_effects
from gearfit.records.estimate import Estimate
from gearfit.records.recording import RideSetup
from gearfit.records.results import Finding, SetupResult, Speedometer, SpeedometerPoint
from gearfit.records.words import SAFE_FACTOR, count, in_unit, interval, number, value
from gearfit.speedometer.odometer import Odometer, check_odometer
from gearfit.units import SPEED_UNIT_LABELS, from_mps

#: From so many readings the others can mostly outvote one that was misread by ten.
_FEWEST_TO_OUTVOTE: Final = 6
_LAW: Final = "Law differs from place to place, so ask which rule counts for this machine where it is ridden."
#: Distance over which the odometer's error is told.
_ODOMETER_KM: Final = 10_000
#: Errors are told up to this share of the fastest reading.
_BEYOND: Final = 1.2


def find_first(facts: Facts) -> list[Finding]:
    """Say where an instrument shows less than the true speed: the finding of first importance."""
    found = []
    for result in facts.results:
        instrument = result.speedometer
        low = [] if instrument is None else [p for p in instrument.curve if p.error_mps.hi95 < 0]
        if instrument is not None and low:
            found.append(replace(_under_reads(result, low, facts.speed_unit), about=result.setup.name))
    return found


def find(facts: Facts) -> list[Finding]:
    """Say what the speedometer shows, setup by setup, and what its gains say about the pick-up."""
    found: list[Finding] = []
    for index, result in enumerate(facts.results):
        if result.speedometer is not None:
            told = _verdict(result, result.speedometer, facts.speed_unit)
            told += _remarks(result, result.speedometer, facts.speed_unit)
            found += [replace(finding, about=result.setup.name) for finding in told]
        elif index < len(facts.speedometer_notes) and facts.speedometer_notes[index]:
            text = f"{result.setup.name}: the speedometer is not judged. {facts.speedometer_notes[index]}"
            found.append(Finding("note", "speedometer-not-judged", text, result.setup.name))
    for pair in facts.pairs:
        found += _pick_up(pair, facts.folder.bike.speedometer.driven_from)
    return [*found, *_after_swap(facts), *_odometers(facts)]


def _odometers(facts: Facts) -> list[Finding]:
    return [finding for ride in facts.folder.setups for finding in odometer_findings(ride)]


def odometer_findings(ride: RideSetup) -> list[Finding]:
    """Say what the odometer of a setup counts against the true distance, where readings of it were noted."""
    checked = check_odometer(ride.recordings)
    if isinstance(checked, str):
        return [Finding("note", "odometer-not-judged", f"{ride.setup.name}: the odometer is not judged: {checked}.")]
    return [] if checked is None else [_odometer(ride.setup.name, checked)]


def _odometer(name: str, checked: Odometer) -> Finding:
    error = checked.factor.shifted(-1.0).scaled(100.0)
    km = _ODOMETER_KM * error.value / 100
    return Finding(
        "note",
        "odometer",
        f"{name}: over {checked.true_m / 1000:.1f} km in {count(checked.rides, 'ride')} the odometer counted "
        f"{percent_with_interval(error)} against the true distance; over a true 10 000 km that is {abs(km):.0f} km "
        f"{'more' if km > 0 else 'fewer'}.",
    )


def _under_reads(result: SetupResult, low: list[SpeedometerPoint], unit: str) -> Finding:
    worst = min(low, key=lambda point: point.error_mps.value)
    return Finding(
        "warning",
        "speedometer-under-reads",
        f"{result.setup.name}: the speedometer shows less than the true speed, between {speed(low[0].true_mps, unit)} and "
        f"{speed(low[-1].true_mps, unit)} beyond doubt; at a true {speed(worst.true_mps, unit)} it shows "
        f"{_shown(worst.indicated_mps, unit)}. A rider who trusts it goes faster than the dash says. Correct it before "
        "riding on public roads; many rules never allow an instrument to show less than the true speed.",
    )


def _shown(indicated_mps: Estimate, unit: str) -> str:
    there = in_unit(indicated_mps, unit)
    return f"{value(there)} {SPEED_UNIT_LABELS[unit]} (95 % interval {interval(there)})"


def _verdict(result: SetupResult, instrument: Speedometer, unit: str) -> list[Finding]:
    name = result.setup.name
    gain = f"{value(instrument.gain)} (95 % interval {interval(instrument.gain)})"
    offset = in_unit(instrument.offset_mps, unit)
    told = [p for p in instrument.at if p.true_mps <= _BEYOND * instrument.curve[-1].true_mps] or list(instrument.at)
    head = (
        f"{name}: shown speed = {gain} x true speed {number(offset.value, 1, signed=True)} {SPEED_UNIT_LABELS[unit]}; the "
        f"error is {_errors(told, unit)}"
    )
    if instrument.verdict == "no rule":
        return [Finding("note", "speedometer", f"{head}. No rule was asked for. {_LAW}")]
    text = f"{head}. Against {instrument.rule}: {instrument.verdict}. {_LAW}"
    severity: Final = "note" if instrument.verdict == "within" else "warning"
    found = [Finding(severity, "speedometer-verdict", text, outcome=instrument.verdict)]
    if instrument.verdict != "within":
        found.append(_correction(result, instrument, unit))
    return found


def _errors(points: Sequence[SpeedometerPoint], unit: str) -> str:
    """Write errors with the true speeds: "+1.2, +2.0 and +3.1 km/h at a true 40, 80 and 120 km/h"."""
    errors = [number(in_unit(p.error_mps, unit).value, 1, signed=True) for p in points]
    speeds = [f"{from_mps(p.true_mps, unit):.0f}" for p in points]
    label = SPEED_UNIT_LABELS[unit]
    return f"{_listed(errors)} {label} at a true {_listed(speeds)} {label}"


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _correction(result: SetupResult, instrument: Speedometer, unit: str) -> Finding:
    name, correction = result.setup.name, instrument.correction
    if isinstance(correction, str):
        return Finding("note", "speedometer-correction", f"{name}, pulse corrector: {correction}.")
    factor = correction.pulse_factor
    return Finding(
        "note",
        "speedometer-correction",
        f"{name}: a pulse corrector set to {number(factor, 3)} ({percent(100 * (factor - 1), 1)} pulses) would leave an "
        f"error of {_errors(correction.remaining, unit)}. {SAFE_FACTOR} It moves the odometer by the same factor where "
        "both use one pick-up.",
    )


def _remarks(result: SetupResult, instrument: Speedometer, unit: str) -> list[Finding]:
    told = remarks(instrument, unit)
    return [Finding("note", "speedometer-remark", f"{result.setup.name}, speedometer: {text}") for text in told]


def remarks(instrument: Speedometer, unit: str) -> list[str]:
    """Say what is odd about the readings of an instrument, and which of them were left aside."""
    found = list(instrument.notes)
    if instrument.units < _FEWEST_TO_OUTVOTE:
        used = int((instrument.readings["set_aside"] == "").sum())
        what = "readings" if instrument.units == used else "held speeds"
        found.append(
            f"Among {instrument.units} {what} one that was misread cannot be told from the others: write ten, spread over "
            "the speeds."
        )
    if not instrument.linear:
        found.append("Its readings do not lie on a straight line, so errors are given along a curve.")
    for stop, word in ((instrument.floor_mps, "least"), (instrument.ceiling_mps, "most")):
        if stop is not None:
            found.append(f"It stops at {speed(stop, unit)}, the {word} that it shows; readings there were left aside.")
    odd = instrument.readings[instrument.readings["set_aside"].str.startswith("out of line")]
    if 0 < len(odd) <= 5 and len(instrument.readings) <= 200:
        rows = ", ".join(f"{file} line {row}" for file, row in zip(odd["file"], odd["row"], strict=True))
        found.append(f"Out of line with the other readings and left aside: {rows}.")
    return found


def _pick_up(pair: Pair, stated: str) -> list[Finding]:
    before, after = pair.reference.speedometer, pair.other.speedometer
    if before is None or after is None:
        return []
    told = pick_up(pair.reference.setup, pair.other.setup, before, after, pair.shift)
    if told is None:
        return []
    return [pick_up_finding(pair.reference.setup.name, pair.other.setup.name, told, stated)]


def pick_up_finding(reference: str, other: str, told: PickUp, stated: str) -> Finding:
    """Say where the speedometer is driven from, between two setups by name, where bike.toml states `stated`."""
    moved = f"From {reference} to {other} the speedometer's gain moved by {percent_with_interval(told.gain_percent)}"
    expected = " and ".join(f"{percent(change)} if driven from {_by(name)}" for name, change in told.expected_percent)
    head = f"{moved}; expected is {expected}."
    if told.driven_from == CANNOT_TELL:
        text = f"{head} These readings cannot tell where it is driven from."
        return Finding("note", "speedometer-pick-up", text)
    if told.driven_from == NEITHER:
        text = (
            f"{head} That is neither: something else moved as well, such as another tyre on the wheel with the pick-up, "
            "other teeth than stated, a corrector that was set, or another instrument."
        )
        return Finding("warning", "speedometer-pick-up", text)
    text = f"{head} So it is driven from {_by(told.driven_from)}."
    if told.driven_from == GEARBOX:
        change = dict(told.expected_percent)[GEARBOX]
        text += f" The swap changed what it shows, and over a true 10 000 km the odometer counts {_distance(change)}."
    elif told.driven_from == WHEEL:
        text += " The swap does not change what it shows. Which wheel cannot be told, as no tyre was changed."
    if stated == "unknown" or told.driven_from in stated or (told.driven_from == WHEEL and stated.endswith("wheel")):
        return Finding("note", "speedometer-pick-up", text)
    text += f" bike.toml states {_by(stated)}: correct it, or look where the cable or the sensor sits."
    return Finding("warning", "speedometer-pick-up", text)


def _by(name: str) -> str:
    return {
        "gearbox output": "the gearbox output",
        "rear wheel": "the rear wheel",
        "front wheel": "the front wheel",
    }.get(name, name)


def _distance(change_percent_: float) -> str:
    km = _ODOMETER_KM * change_percent_ / 100
    return f"{abs(km):.0f} km {'more' if km > 0 else 'fewer'} than before"


def _after_swap(facts: Facts) -> list[Finding]:
    """Predict what the swap does to the instrument, where the ride after it is still to come."""
    setups = facts.folder.bike.setups
    ridden = facts.results[0]
    waiting = [setup for setup in setups if setup.name not in {result.setup.name for result in facts.results}]
    if len(facts.results) != 1 or not waiting or ridden.speedometer is None:
        return []
    other = waiting[0]
    predicted = change_percent(ridden.setup, other)
    reductions = ridden.setup.final_drive.reduction, other.final_drive.reduction
    if predicted is None or reductions[0] is None or reductions[1] is None or predicted == 0:
        return []
    teeth = reductions[0] / reductions[1]
    effects = instrument_effects(facts.folder.bike.speedometer.driven_from, teeth, (1 + predicted / 100) / teeth)
    return [
        Finding(
            "note",
            "speedometer-after-swap",
            f"With {other.name} fitted: {'; '.join(_effect(effect) for effect in effects)}.",
        )
    ]


def _effect(effect: InstrumentEffect) -> str:
    change = effect.reading_percent
    if abs(change) < 0.005:
        return f"driven from {_by(effect.driven_from)}, speedometer and odometer stay as they are"
    return (
        f"driven from {_by(effect.driven_from)}, the speedometer reads {abs(change):.1f} % "
        f"{'higher' if change > 0 else 'lower'} at the same true speed, and over a true 10 000 km the odometer counts "
        f"{_distance(change)}"
    )
